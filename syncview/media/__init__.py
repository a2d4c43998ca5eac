"""Recordings: their exact frame times, pictures and sound, and the writing of finished films."""
