"""How running lap times are written."""

from __future__ import annotations

import pytest

from syncview.gauges.cards import running_time_text


@pytest.mark.parametrize(
    ("lap_time_s", "text"),
    [
        (83.456, "1:23.4"), (59.999, "0:59.9"), (59.9994, "0:59.9"), (59.9996, "1:00.0"), (0.0, "0:00.0"),
        (60.0, "1:00.0"), (3660.0, "61:00.0"), (7.034, "0:07.0"), (599.9999, "10:00.0"),
        *((tenth / 10, f"0:{tenth // 10:02d}.{tenth % 10}") for tenth in range(0, 600, 7)),
    ],
)  # fmt: skip
def test_running_lap_times(lap_time_s: float, text: str) -> None:
    """Worked values by arithmetic: 83 456 ms is 1 min 23.4 s and a little; rounding never writes 0:60.0."""
    assert running_time_text(lap_time_s) == text


def test_no_lap_time_is_negative() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        running_time_text(-0.001)
