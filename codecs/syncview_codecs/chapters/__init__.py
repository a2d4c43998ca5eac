"""Chapters of a film: the fact itself and the texts that carry it."""
