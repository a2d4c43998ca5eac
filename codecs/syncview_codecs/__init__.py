"""Bytes and text <-> plain values: logs, captions, chapters. No video, no window, no knowledge of cars."""
