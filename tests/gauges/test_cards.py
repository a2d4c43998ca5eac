"""How lap times are written."""

from __future__ import annotations

import pytest

from syncview.gauges.cards import lap_time_text


@pytest.mark.parametrize(
    ("lap_time_s", "text"),
    [
        (83.456, "1:23.456"), (59.999, "0:59.999"), (59.9994, "0:59.999"), (59.9996, "1:00.000"), (0.0, "0:00.000"),
        (60.0, "1:00.000"), (3660.0, "61:00.000"), (7.034, "0:07.034"), (599.9999, "10:00.000"),
    ],
)  # fmt: skip
def test_lap_times(lap_time_s: float, text: str) -> None:
    """Worked values by arithmetic: 83 456 ms is 1 min 23.456 s; rounding never writes 0:60.000."""
    assert lap_time_text(lap_time_s) == text


def test_no_lap_time_is_negative() -> None:
    with pytest.raises(ValueError, match="cannot be"):
        lap_time_text(-0.001)
