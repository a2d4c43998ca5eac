"""The clock of playing: smooth although a sound card tells its place in steps, and never backwards."""

import numpy as np

from syncview.desk.picture.play_clock import PlayClock


def test_without_sound_it_is_the_steady_clock() -> None:
    clock = PlayClock(100.0)
    assert [clock.read(now) for now in (100.0, 100.5, 103.25)] == [0.0, 0.5, 3.25]


def test_it_follows_a_card_that_runs_fast_and_tells_its_place_in_steps() -> None:
    """A card 0.5 % fast (far beyond any quartz), read every 15 ms, that only counts whole periods of 20 ms."""
    clock, now_s, off, steps = PlayClock(0.0), 0.0, [], []
    last_s = 0.0
    for tick in range(8000):
        now_s = tick * 0.008
        true_s = max(0.0, now_s - 0.05) * 1.005  # the first sample is heard 50 ms after the begin
        if tick % 2 == 0 and true_s > 0:
            clock.correct(true_s // 0.02 * 0.02, now_s)
        read_s = clock.read(now_s)
        steps.append(read_s - last_s)
        last_s = read_s
        if now_s > 2:
            off.append(read_s - true_s)
    assert min(steps) >= 0
    assert np.max(np.abs(off)) < 0.03  # a frame of 30 a second, and half of what ITU-R BT.1359-1 calls noticeable
    assert np.max(steps[300:]) < 0.016  # no jump of a whole picture at 60 a second


def test_after_a_stumble_of_the_card_the_picture_waits_for_it() -> None:
    clock = PlayClock(0.0)
    clock.correct(1.0, 1.0)
    assert clock.read(2.0) == 2.0
    clock.correct(1.5, 2.0)  # half a second was not heard
    assert clock.read(2.1) == 2.0  # stands still, never back
    assert clock.read(2.75) == 2.25
