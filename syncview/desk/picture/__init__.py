"""The picture under the playhead with its gauges, how it is played and stepped, and what is drawn on stills."""
