"""Exact pictures while a playhead is dragged: at once from memory or small copies on disk, else as soon as decoded."""
