"""Recordings that were stopped, or lost a block, while the log went on."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.clock.answers import answers
from syncview.clock.clock_map import ClockMap, Pause
from syncview.clock.sound import engine_track, spectrogram
from syncview.clock.sound_evidence import hear
from tests.clock.engine import AUDIO_HZ, engine_log, engine_sound

FRAME_S = 1 / 60
OFFSET_S, RATE = -5.0, 1.0001


@pytest.mark.parametrize(
    ("seed", "stops_s", "lost_s"), [(0, 90.0, 7.0), (1, 120.0, 0.5), (2, 60.0, 40.0), (3, 100.0, 0.15)]
)
def test_a_pause_is_found_placed_and_measured(seed: int, stops_s: float, lost_s: float) -> None:
    log = engine_log(260, seed)
    sound = engine_sound(log, 250, offset_s=OFFSET_S, rate=RATE)
    cut = int((stops_s * RATE + OFFSET_S) * AUDIO_HZ)
    sound = np.concatenate((sound[:cut], sound[cut + round(lost_s * AUDIO_HZ) :]))
    (answer,) = answers([hear(spectrogram([sound], 0.0), engine_track(log.time_s, log.engine_rad_s))])
    clock = answer.best.clock
    (pause,) = clock.pauses
    assert not answer.doubts
    assert pause.log_s == pytest.approx(stops_s, abs=0.5)
    assert pause.lost_s == pytest.approx(lost_s, abs=FRAME_S / 2)
    assert clock.to_media_s(20.0) == pytest.approx(RATE * 20 + OFFSET_S, abs=FRAME_S / 2)
    assert clock.to_media_s(250.0) == pytest.approx(RATE * 250 + OFFSET_S - lost_s, abs=FRAME_S / 2)


def test_an_end_that_fits_nothing_is_doubted() -> None:
    log, other = engine_log(260, 0), engine_log(260, 50)
    sound = np.concatenate(
        (engine_sound(log, 180, offset_s=OFFSET_S), engine_sound(other, 250, offset_s=OFFSET_S)[180 * AUDIO_HZ :])
    )
    found = answers([hear(spectrogram([sound], 0.0), engine_track(log.time_s, log.engine_rad_s))])
    assert all(answer.doubts for answer in found)
    assert all("may have been cut" in answer.doubts[0] for answer in found)


def _spaced(gaps: list[tuple[float, float]]) -> tuple[Pause, ...]:
    made, at = [], 0.0
    for gap_s, lost_s in gaps:
        made.append(Pause(at + gap_s, lost_s))
        at += gap_s + lost_s * 1.1
    return tuple(made)


pauses = st.lists(st.tuples(st.floats(1, 100), st.floats(0.01, 50)), max_size=4).map(_spaced)


@given(pauses, st.floats(-50, 50), st.floats(0.99, 1.01), st.floats(-100, 1000))
def test_a_clock_with_pauses_goes_there_and_back(
    made: tuple[Pause, ...], offset_s: float, rate: float, log_s: float
) -> None:
    clock = ClockMap(offset_s, rate, pauses=made)
    media_s = clock.to_media_s(log_s)
    if np.isnan(media_s):
        assert not clock.is_recorded(log_s, log_s)
    else:
        assert clock.to_log_s(media_s) == pytest.approx(log_s, abs=1e-6) or any(
            abs(log_s - pause.log_s) < 1e-6 or abs(log_s - pause.log_s - pause.lost_s / rate) < 1e-6 for pause in made
        )


def test_media_time_runs_on_over_a_pause() -> None:
    clock = ClockMap(0.0, pauses=(Pause(10.0, 5.0),))
    assert clock.to_media_s(np.array([9.0, 10.0, 12.0, 15.0, 16.0])) == pytest.approx(
        [9.0, 10.0, np.nan, 10.0, 11.0], nan_ok=True
    )
    assert clock.to_log_s(np.array([9.0, 10.5])) == pytest.approx([9.0, 15.5])


def test_pauses_that_overlap_are_refused() -> None:
    with pytest.raises(ValueError, match="overlap"):
        ClockMap(0.0, pauses=(Pause(10.0, 5.0), Pause(12.0, 1.0)))
