"""Laps, lap distance, corners and the facts that the data hold about them."""
