"""Hand-off to editing programs: a film's cut as a timeline of pieces of a recording, with markers."""
