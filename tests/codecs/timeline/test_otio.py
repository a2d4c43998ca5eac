"""Documents read back by the OpenTimelineIO library; time codes after SMPTE ST 12-1."""

from __future__ import annotations

from fractions import Fraction

import opentimelineio as otio
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.errors import CodecError
from syncview_codecs.timeline.cut import Cut, Mark, Piece
from syncview_codecs.timeline.otio import write, write_edl

RATES = [Fraction(25), Fraction(30000, 1001), Fraction(60), Fraction(60000, 1001)]
PIECES = (
    Piece(50, "Card"),
    Piece(100, "Lap", Fraction(10)),
    Piece(80, "1 Lantern", Fraction(12), Fraction(1, 4), "1/4 speed: the words"),
    Piece(40, "1 Lantern", Fraction(13), Fraction(0), "held"),
)
MARKS = (Mark(0, "Begin"), Mark(60, "Lap 2"), Mark(155, "1 Lantern", 30, "brake"), Mark(269, "end"))


def cut_at(rate: Fraction) -> Cut:
    return Cut("Lesson", rate, "onboard.mp4", rate, 5000, PIECES, MARKS)


@pytest.mark.parametrize("rate", RATES)
def test_pieces_speeds_and_marks_come_back(rate: Fraction) -> None:
    timeline = otio.adapters.read_from_string(write(cut_at(rate)), "otio_json")
    assert isinstance(timeline, otio.schema.Timeline)
    track = timeline.video_tracks()[0]
    assert [item.source_range.duration.value for item in track] == [50, 100, 80, 40]
    assert track.duration() == otio.opentime.RationalTime(270, float(rate))
    starts = [item.source_range.start_time.to_seconds() for item in list(track)[1:]]
    assert starts == pytest.approx([10, 12, 13], abs=1e-9)
    assert isinstance(track[0], otio.schema.Gap)
    assert list(track[1].effects) == []
    assert [effect.time_scalar for effect in track[2].effects] == [0.25]
    assert isinstance(track[3].effects[0], otio.schema.FreezeFrame)
    assert track[1].media_reference.target_url == "onboard.mp4"
    at = {
        marker.name: track.range_of_child(item).start_time
        + (marker.marked_range.start_time - item.source_range.start_time)
        for item in track
        for marker in item.markers
    }
    assert {name: round(time.value, 6) for name, time in at.items()} == {m.name: m.frame for m in MARKS}


@given(st.lists(st.tuples(st.integers(1, 5000), st.fractions(0, 500), st.fractions(0, 1)), min_size=1, max_size=6))
def test_times_are_exact_in_the_films_pictures(rows: list[tuple[int, Fraction, Fraction]]) -> None:
    rate = Fraction(60000, 1001)
    pieces = tuple(Piece(frames, "p", media_s, speed) for frames, media_s, speed in rows)
    timeline = otio.adapters.read_from_string(write(Cut("x", rate, "a.mp4", rate, 99, pieces)), "otio_json")
    track = timeline.video_tracks()[0]
    assert [item.source_range.duration.value for item in track] == [piece.frames for piece in pieces]
    for item, piece in zip(track, pieces, strict=True):
        assert piece.begin_media_s is not None
        assert item.source_range.start_time.value == pytest.approx(float(piece.begin_media_s * rate), rel=1e-12)


def test_lists_have_drop_frame_codes_where_the_rate_asks_for_them() -> None:
    # SMPTE ST 12-1: at 29.97, picture 1800 of a minute that drops is 00:01:00;02.
    rate = Fraction(30000, 1001)
    pieces = (Piece(1800, "a", Fraction(0)), Piece(30, "b", Fraction(70)))
    listed = write_edl(Cut("x", rate, "a.mp4", rate, 9999, pieces))
    assert "00:00:00;00 00:01:00;02" in listed
    assert "00:01:00;02 00:01:01;02" in listed
    assert "ONBOARD" in listed
    assert "00:00:00:00 00:01:00:00" in write_edl(Cut("x", Fraction(25), "a.mp4", Fraction(25), 9999,
                                                      (Piece(1500, "a", Fraction(0)),)))  # fmt: skip


def test_speeds_are_in_the_list() -> None:
    lines = write_edl(cut_at(Fraction(25))).splitlines()
    # 80 pictures at a quarter of the speed play 20 of the recording: 12 s to 12 s and 20 pictures.
    assert "002  ONBOARD  V     C        00:00:12:00 00:00:12:20 00:00:06:00 00:00:09:05" in lines
    assert any(line.startswith("M2") and "6.25" in line for line in lines)  # pictures a second, a quarter of 25
    assert "003  ONBOARD  V     C        00:00:13:00 00:00:13:01 00:00:09:05 00:00:10:20" in lines


def test_no_piece_without_length() -> None:
    with pytest.raises(CodecError, match="cannot be cut"):
        Piece(0)
