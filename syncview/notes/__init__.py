"""What the coach says: notes anchored to lap distance, drafts of them from facts, and transcripts turned into them."""
