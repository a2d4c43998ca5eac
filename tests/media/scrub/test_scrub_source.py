from __future__ import annotations

import os
import random
import time
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from syncview.errors import MediaError
from syncview.media.recording import Recording, open_recording
from syncview.media.scrub.pictures import ScrubPicture
from syncview.media.scrub.scrub_source import ScrubSource
from tests.media.scrub.shown import WAIT_S, read_bars, shown
from tests.media.scrub.test_source_decoder import damaged
from tests.media_samples import make_clip


def test_a_near_picture_comes_first_and_then_the_exact_one(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        all_came = [own.answers(number) for number in (59, 119, 179, 239)]
    for key, came in zip((0, 60, 120, 180), all_came, strict=True):
        assert came[-1].number == key + 59
        # What stands in is the key frame, or a picture that is in memory and nearer.
        assert all(key <= p.number < key + 59 for p in came[:-1])
        assert [read_bars(p.rgb) for p in came] == [p.number for p in came]
        assert [p.is_exact for p in came] == [False, True][-len(came) :]
    assert any(len(came) == 2 for came in all_came), "the key frame is never the quicker one"
    last = all_came[-1][-1]
    assert last.media_s == last.asked_s == long_groups.frames.media_s(239)
    assert last.rgb.flags.c_contiguous
    assert last.rgb.shape == (180, 320, 3)
    assert not last.is_proxy
    assert not last.is_full


@pytest.mark.parametrize("name", ["variable", "cut_by_edit_list", "transport_stream", "late_matroska"])
def test_the_frame_shown_is_the_frame_asked_for(name: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    recording = open_recording(request.getfixturevalue(name))
    frames = recording.frames
    numbers = random.Random(4).sample(range(len(frames)), min(25, len(frames)))
    with shown(recording) as plain, shown(recording, folder=tmp_path) as quick:
        first_bars = read_bars(plain.answers(0)[-1].rgb)  # the edit list hides frames
        quick.wait_for_proxies()
        for number in numbers:
            for own in (plain, quick):
                late_s = frames.media_s(number) + Fraction(int(frames.duration[number]) - 1) * frames.time_base
                asked = own.source.ask(late_s)  # the last moment that it is on screen
                picture = own.until_exact(asked)[-1]
                assert picture.number == number
                assert read_bars(picture.rgb) - first_bars == number
                assert picture.media_s == frames.media_s(number)


def test_only_the_newest_request_is_answered_to_the_end(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        asked = [own.ask(number) for number in [*range(0, 240, 7), 17]]
        came = own.until_exact(asked[-1])
        assert read_bars(came[-1].rgb) == 17
        time.sleep(0.2)
        assert own.pictures.empty(), "something came after the exact picture"


def test_a_slow_receiver_gets_the_last_request_last(long_groups: Recording) -> None:
    came: list[ScrubPicture] = []

    def take(picture: ScrubPicture) -> None:
        time.sleep(0.005)
        came.append(picture)

    source = ScrubSource(long_groups, on_picture=take, on_fault=lambda _: None, memory_bytes=1 << 20)
    try:
        for number in random.Random(2).choices(range(240), k=60):
            asked = source.ask(long_groups.frames.media_s(number))
            time.sleep(0.003)
        end = time.monotonic() + WAIT_S
        while not (came and came[-1].asked == asked and came[-1].is_exact):
            assert time.monotonic() < end
            time.sleep(0.005)
    finally:
        source.close()
    assert [p.asked for p in came] == sorted(p.asked for p in came)
    assert came[-1].number == number == read_bars(came[-1].rgb)


def test_stepping_back_is_answered_from_memory(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        own.answers(110, direction=-1)
        steps = [own.answers(number, direction=-1) for number in range(109, 90, -1)]
        assert all(len(came) == 1 for came in steps), "a step back showed another frame in between"
        assert [read_bars(came[0].rgb) for came in steps] == list(range(109, 90, -1))


def test_what_lies_ahead_is_read_while_nothing_is_asked(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        own.answers(70, direction=1)
        end = time.monotonic() + WAIT_S
        moment_s = long_groups.frames.media_s(80)
        while (picture := own.source.picture_now(moment_s)) is None:
            assert time.monotonic() < end
            time.sleep(0.01)
        assert picture.is_exact
        assert read_bars(picture.rgb) == 80


def test_full_pictures_are_exact(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        assert read_bars(own.source.full_picture(133)) == 133
        asked = own.ask(77, full=True)
        came: list[ScrubPicture] = []
        while not (came and came[-1].is_full):
            came.append(own.pictures.get(timeout=WAIT_S))
        assert came[-1].asked == asked
        assert read_bars(came[-1].rgb) == 77
        assert came[-1].is_exact
        np.testing.assert_array_equal(came[-1].rgb, own.source.full_picture(77))
        with pytest.raises(IndexError):
            own.source.full_picture(240)


def test_beyond_the_ends_the_first_and_last_are_seen(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        for moment_s, number in ((Fraction(-1), 0), (long_groups.frames.end_s, 239), (Fraction(99), 239)):
            assert read_bars(own.until_exact(own.source.ask(moment_s))[-1].rgb) == number


def test_memory_stays_within_the_budget(long_groups: Recording) -> None:
    one = 320 * 180 * 3 // 2
    with shown(long_groups, memory_bytes=12 * one) as own:
        for number in (50, 51, 180, 20, 21, 22):
            own.answers(number)
            assert own.source.memory_used_bytes <= 12 * one
    with shown(long_groups, memory_bytes=0) as own:
        assert read_bars(own.answers(99)[-1].rgb) == 99


def test_playing_gives_frames_in_order(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        playing = own.source.play(Fraction(1))
        numbers = []
        end = time.monotonic() + WAIT_S
        number = 30
        while number < 240 and time.monotonic() < end:
            picture = playing.picture(long_groups.frames.media_s(number))
            if picture is None:
                time.sleep(0.002)
                continue
            assert read_bars(picture.rgb) == picture.number == number
            numbers.append(picture.number)
            number += 1
        assert numbers == list(range(30, 240))
        assert playing.picture(Fraction(99)) is None
        with pytest.raises(ValueError, match="forward"):
            own.source.play(Fraction(0), speed=0)


def test_playing_fast_passes_over_what_no_display_shows(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        playing = own.source.play(Fraction(0), speed=8)
        numbers: list[int] = []
        end = time.monotonic() + WAIT_S
        while len(numbers) < 40 and time.monotonic() < end:
            due = numbers[-1] + 4 if numbers else 0  # at 30 frames a second, of which the display takes 60
            picture = playing.picture(long_groups.frames.media_s(due))
            if picture is not None:
                assert read_bars(picture.rgb) == picture.number
                numbers.append(picture.number)
        assert numbers == list(range(0, 160, 4))


def test_a_wide_drag_ends_with_the_exact_frame(long_groups: Recording) -> None:
    with shown(long_groups, memory_bytes=0) as own:
        asked = [own.ask(number) for number in (10, 130, 20, 200, 30, 170, 93)]
        came = own.until_exact(asked[-1])
        assert [p.number for p in came][-1] == 93
        assert read_bars(came[-1].rgb) == 93


def test_playing_late_passes_frames_over(long_groups: Recording) -> None:
    with shown(long_groups) as own:
        playing = own.source.play(Fraction(0), full=True)
        end = time.monotonic() + WAIT_S
        while (picture := playing.picture(long_groups.frames.media_s(200))) is None or not picture.is_exact:
            assert time.monotonic() < end
            time.sleep(0.002)
        assert read_bars(picture.rgb) == 200
        own.source.stop()


def test_a_damaged_frame_is_told_and_a_near_one_shown(long_groups: Recording, tmp_path: Path) -> None:
    recording = damaged(long_groups, tmp_path, first=61, last=179)
    with shown(recording) as own:
        own.ask(100)
        fault = own.faults.get(timeout=WAIT_S)
        assert isinstance(fault, MediaError)
        assert "3.333 s" in str(fault)
        with pytest.raises(MediaError, match="cannot be decoded"):
            own.source.full_picture(100)


def test_media_gone_while_open_is_told_with_a_remedy(tmp_path: Path) -> None:
    recording = open_recording(make_clip(tmp_path / "clip.mp4", frame_count=90))
    with shown(recording) as own:
        away = tmp_path / "away.mp4"
        recording.path.rename(away)
        own.ask(50)
        fault = own.faults.get(timeout=WAIT_S)
        assert isinstance(fault, MediaError)
        assert "not there any more" in fault.problem
        assert "Put the disk or card back" in fault.remedy
        with pytest.raises(MediaError, match="not there any more"):
            own.source.full_picture(70)
        away.rename(recording.path)
        assert read_bars(own.answers(51)[-1].rgb) == 51


def test_media_cut_short_while_open_is_told(tmp_path: Path) -> None:
    recording = open_recording(make_clip(tmp_path / "clip.mp4", frame_count=240, key_step=60))
    with shown(recording) as own:
        own.answers(3)
        os.truncate(recording.path, recording.size_bytes // 3)
        own.ask(230)
        fault = own.faults.get(timeout=WAIT_S)
        assert "changed while it was open" in str(fault)


def test_closing_in_the_middle_ends_all(long_groups: Recording, tmp_path: Path) -> None:
    for delay_s in (0.0, 0.05, 0.3):
        with shown(long_groups, folder=tmp_path / str(delay_s)) as own:
            own.source.play(Fraction(0))
            own.ask(200)
            time.sleep(delay_s)
        own.source.close()  # a second time does nothing
        assert own.ask(3) > 0  # and a late request is not answered
        with pytest.raises(MediaError):
            own.source.full_picture(100)
