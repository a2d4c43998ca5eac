"""The notes of the desk: list, writing, check, voices."""
