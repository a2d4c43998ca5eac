"""A lesson of ten minutes, finished and read back: is every picture, caption and chapter at its time?

    python -m tests.bench.lesson [--minutes 10]

The recording carries its frame's number as bars in the picture and has a variable rate. The finished film's pictures
are read one by one: the frame that is seen against the media time that the plan gives for that moment, in shares of
the recording's frame step. Captions and chapters are read back by ffprobe. Memory is the process's own peak.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import tempfile
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import av
import numpy as np

from syncview.gauges.title_card import TitleCard
from syncview.gauges.values import GaugeValues
from syncview.lesson.film_picture import PanelOptions
from syncview.lesson.lesson_pictures import LessonLook, LessonPictures
from syncview.lesson.lesson_plan import LessonPlan, SaidAt, Section
from syncview.lesson.ready_lesson import lesson_captions
from syncview.media.caption_stream import CaptionTrack
from syncview.media.encoders import DRAFT
from syncview.media.recording import Recording, open_recording
from syncview.media.segments import FilmExtras, SegmentedFilm
from syncview.notes.note import Note
from syncview.plan.chapter_rules import ChapterPlan
from syncview.plan.pace_plan import PacePlan
from syncview.plan.pace_rules import SaidNote
from syncview.plan.pace_solver import solve_pace
from syncview_codecs.chapters.chapter import Chapter
from tests.media_samples import make_clip, read_bar_code

NOTE_EVERY_S = 6
SIZE = (320, 180)


def recording_of(folder: Path, seconds: float) -> Recording:
    """Steps of 14 to 19 ms, as a phone's that means 60 a second."""
    steps = np.random.default_rng(11).integers(1300, 1700, round(seconds * 60))
    pts = [0, *np.cumsum(steps).tolist()]
    return open_recording(make_clip(folder / "bars.mp4", pts=pts, time_base=Fraction(1, 90000), key_step=60, size=SIZE))


def plan_of(recording: Recording) -> LessonPlan:
    """The lap twice: at full speed, then with notes that take four times as long as there is time for."""
    end = recording.frames.media_s(len(recording.frames) - 1)  # past its last frame there is no nearer one to come
    places = [Fraction(place) for place in range(2, int(end) - 2, NOTE_EVERY_S)]
    wanted = [SaidNote(f"n{i}", place, Fraction(15 + i % 9), Fraction(3)) for i, place in enumerate(places)]
    solved = solve_pace(Fraction(0), end, wanted)
    full = PacePlan.at_full_speed(Fraction(0), end)
    card = TitleCard("Ten minutes")
    sections = (
        Section("card", "Card", Fraction(0), Fraction(4), card=card),
        Section("hot lap", "Hot lap", Fraction(4), full.length_s, pace=full),
        Section("breakdown", "Breakdown", 4 + full.length_s, solved.plan.length_s, pace=solved.plan),
    )
    begin = sections[2].begin_s
    said = tuple(
        SaidAt(Note(time.key, 0.0, f"This is what is said as note {time.key}."), time.media_s,
               begin + time.begin_lesson_s, begin + time.end_lesson_s, Fraction(15), is_estimate=True)
        for time in solved.notes
    )  # fmt: skip
    marks = [*(round(section.begin_s * 1000) for section in sections), int(sections[-1].end_s * 1000)]
    chapters = [Chapter(a, b, f"Part {n}") for n, (a, b) in enumerate(pairwise(marks), 1)]
    film = cast("Any", SimpleNamespace(recording=recording))
    return LessonPlan(film, (), sections, said, ChapterPlan(tuple(chapters), ()), ())


def write(plan: LessonPlan, output: Path) -> list[tuple[Fraction, Fraction]]:
    """Write the film; the media and lesson times for which gauge values were asked, in order."""
    asked: list[tuple[Fraction, Fraction]] = []

    def values_at(media_s: Fraction, lesson_s: Fraction) -> GaugeValues:
        asked.append((media_s, lesson_s))
        return GaugeValues(speed_mps=float(media_s) % 60)

    only = PanelOptions().choice.of(["seesaw"])
    pictures = LessonPictures(plan, LessonLook(slow_pictures="repeat", panel=PanelOptions(choice=only)), values_at)
    cues = lesson_captions(plan).cues
    with SegmentedFilm(output, picture=pictures.shape, digest="bench", settings=DRAFT) as film:
        for number, frame in enumerate(pictures.frames()):
            film.write_picture(frame, pts=number, duration=1)
        film.finish(FilmExtras(chapters=plan.chapters.chapters, captions=(CaptionTrack(cues),)))
    return asked


def picture_errors(plan: LessonPlan, output: Path, asked: list[tuple[Fraction, Fraction]]) -> list[float]:
    """For each picture of the lap: how far the frame seen is from its clock, in steps of the recording there."""
    index = plan.film.recording.frames
    times_s = index.times_s
    media_of = {lesson_s: media_s for media_s, lesson_s in asked}
    errors = []
    with av.open(str(output)) as container:
        for number, frame in enumerate(container.decode(video=0)):
            assert frame.pts is not None
            assert frame.time_base is not None
            lesson_s = frame.pts * frame.time_base
            assert abs(lesson_s - number / plan.rate) < Fraction(1, 1000)
            media_s = media_of.get(number / plan.rate)
            if media_s is not None:
                code = read_bar_code(frame)
                step = max(np.diff(times_s[max(code - 1, 0) : code + 2]))
                errors.append(abs(float(media_s) - times_s[code]) / float(step))
    return errors


def caption_errors_ms(plan: LessonPlan, output: Path) -> list[float]:
    """How far each note's first caption in the film is from the time at which the note is said."""
    command = ["ffprobe", "-v", "error", "-select_streams", "s", "-show_packets", "-of", "json", str(output)]
    packets = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["packets"]
    starts = np.array([float(p["pts_time"]) * 1000 for p in packets if int(p["size"]) > 2])
    return [float(np.abs(starts - float(said.begin_s) * 1000).min()) for said in plan.said]


def chapter_errors_ms(plan: LessonPlan, output: Path) -> list[float]:
    """How far each chapter in the film is from where it was planned."""
    command = ["ffprobe", "-v", "error", "-show_chapters", "-of", "json", str(output)]
    told = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["chapters"]
    return [abs(float(c["start_time"]) * 1000 - p.start_ms) for c, p in zip(told, plan.chapters.chapters, strict=True)]


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--minutes", type=float, default=10.0, help="length of the lesson, about")
    minutes = options.parse_args().minutes
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        recording = recording_of(folder, minutes * 60 / 4.6)
        plan = plan_of(recording)
        output = folder / "lesson.mp4"
        asked = write(plan, output)
        errors = picture_errors(plan, output, asked)
        print(f"lesson               {float(plan.length_s):.1f} s, {plan.frame_count} pictures, {len(plan.said)} notes")
        print(f"picture off its clock {max(errors):.3f} of a frame step at most (bar 0.5)")
        print(f"captions off          {max(caption_errors_ms(plan, output)):.1f} ms at most")
        print(f"chapters off          {max(chapter_errors_ms(plan, output)):.1f} ms at most")
        print(f"peak memory           {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
