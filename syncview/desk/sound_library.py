"""When Qt's sound library is loaded."""

from __future__ import annotations


def load_sound() -> bool:
    """Load Qt's sound while no other thread runs; False when it cannot be loaded.

    Loaded on the first play instead, beside threads that decode, it has been seen to stand still for ever.
    """
    try:
        import PyQt6.QtMultimedia  # noqa: F401
    except ImportError:
        return False
    return True
