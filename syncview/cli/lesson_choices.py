"""`syncview lesson set`, `pin`, `hold`, `voice` and `draw`: what the coach decides about the lesson."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_project, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.gauges.drawing import Place
    from syncview.plan.lesson_choices import LessonChoices, PinnedPace
    from syncview.project import Project

LOUDNESS = {"ebu": -23.0, "web": -14.0}
"""EBU R 128, and what video hosts play at (common practice)."""
_YES_NO = {"yes": True, "no": False}


def add_set(actions: Commands) -> None:
    """Add `lesson set`."""
    parser = actions.add_parser(
        "set",
        help="choose how the lesson plays, looks and sounds",
        description="Only what you name is changed; lesson plan shows what comes of it. Speeds are shares of full "
        "speed: 1/4, 0.25 or 25%%.",
    )
    add_project(parser)
    text = parser.add_argument
    text("--title", help="on the first card; '' for the circuit's name")
    text("--slowest", metavar="SPEED", help="no slow motion is slower; the picture is held instead (1/4)")
    text("--speeds", nargs="*", metavar="SPEED", help="use only these speeds; none named: any speed")
    text("--corner-speed", metavar="SPEED", help="highest speed in a corner with notes, however short they are (1/2)")
    text("--longest-hold", dest="longest_hold_s", type=float, metavar="S", help="longest still at a note (8)")
    text("--full-speed", dest="least_full_speed_s", type=float, metavar="S",
         help="seconds between two corners that run at full speed where there is room (1)")  # fmt: skip
    text("--words-per-minute", type=float, metavar="N", help="how quickly you speak, for notes without a voice (150)")
    text("--intro", dest="intro_s", type=float, metavar="S", help="seconds of the first card; 0 for none (6)")
    text("--closing", dest="closing_s", type=float, metavar="S", help="seconds of the last card; 0 for none (7)")
    text("--before", dest="before_s", type=float, metavar="S", help="seconds shown before the lap (3)")
    text("--after", dest="after_s", type=float, metavar="S", help="seconds shown after the lap (3)")
    text("--hot-lap", choices=tuple(_YES_NO), help="show the lap at full speed first (yes)")
    text("--slow-pictures", choices=("auto", "repeat", "blend", "flow"),
         help="how slow motion is made: repeat pictures, blend them, or make those in between by optical flow; auto "
         "repeats down to half speed of 60 pictures a second and flows below (auto)")  # fmt: skip
    text("--captions", choices=("picture", "track", "both", "none"),
         help="write the notes on the picture, as a track that players can switch, or both (picture)")  # fmt: skip
    text("--shape", choices=("as recorded", "wide", "tall", "square"), help="cut the picture: 16:9, 9:16 or 1:1")
    text("--draft-voice", metavar="LANGUAGE", help="let espeak-ng read notes without a voice: en, de …; 'none' for not")
    text("--loudness", metavar="LUFS", help="ebu (-23 LUFS), web (-14 LUFS) or a number (ebu)")
    parser.set_defaults(run=run_set)


def add_pin(actions: Commands) -> None:
    """Add `lesson pin`."""
    parser = actions.add_parser(
        "pin",
        help="set the speed of a stretch of the lap yourself",
        description="The rest of the lesson is planned around it. --free takes back the pins that touch the stretch.",
    )
    add_project(parser)
    parser.add_argument("--from", dest="begin_m", type=float, required=True, metavar="METRES", help="lap distance")
    parser.add_argument("--to", dest="end_m", type=float, required=True, metavar="METRES", help="lap distance")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--speed", help="share of full speed: 1/3, 0.4 …")
    what.add_argument("--free", action="store_true", help="leave it to the plan again")
    parser.set_defaults(run=run_pin)


def add_hold(actions: Commands) -> None:
    """Add `lesson hold`."""
    parser = actions.add_parser("hold", help="set how long the picture stands at a note")
    add_project(parser)
    parser.add_argument("key", metavar="KEY", help="the note's key, such as n3")
    parser.add_argument("seconds", metavar="SECONDS", help="0 for no hold; 'free' leaves it to the plan again")
    parser.set_defaults(run=run_hold)


def add_voice(actions: Commands) -> None:
    """Add `lesson voice`."""
    parser = actions.add_parser(
        "voice",
        help="attach the recorded words of a note, or of all of them",
        description="Any sound file will do: a phone's recording, WAV, FLAC, MP3, M4A. It is referred to, never "
        "copied. With --whole, one file with the words of all notes in lap order is cut at its pauses.",
    )
    add_project(parser)
    parser.add_argument("key", nargs="?", metavar="KEY", help="the note's key, such as n3")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--file", type=Path, metavar="FILE", help="the recorded words of this note")
    what.add_argument("--whole", type=Path, metavar="FILE", help="the recorded words of all notes, in lap order")
    what.add_argument("--remove", action="store_true", help="take the voice away (the file stays)")
    parser.set_defaults(run=run_voice)


def add_draw(actions: Commands) -> None:
    """Add `lesson draw`."""
    parser = actions.add_parser(
        "draw",
        help="draw on the still at a note: arrow, line, ellipse or spotlight",
        description="Places are shares of the picture's width and height from its left top corner: 0.5,0.5 is the "
        "middle. An arrow points at its second place; ellipse and spotlight fill the box between the two. The picture "
        "then stands at this note. lesson preview --note KEY shows it.",
    )
    add_project(parser)
    parser.add_argument("key", metavar="KEY", help="the note's key, such as n3")
    parser.add_argument("kind", nargs="?", choices=("arrow", "line", "ellipse", "spotlight"))
    parser.add_argument("begin", nargs="?", metavar="X,Y")
    parser.add_argument("end", nargs="?", metavar="X,Y")
    parser.add_argument("--label", default="", help="words beside it")
    parser.add_argument("--clear", action="store_true", help="take all drawings at this note away")
    parser.set_defaults(run=run_draw)


def run_set(arguments: argparse.Namespace) -> int:
    """Change choices."""
    from dataclasses import fields

    from syncview.errors import SyncviewError
    from syncview.plan.lesson_choices import LessonChoices, checked_choices
    from syncview.project import load, save

    project = load(arguments.project)
    names = {field.name for field in fields(LessonChoices)}
    given: dict[str, Any] = {
        name: value for name, value in vars(arguments).items() if name in names and value is not None
    }
    if arguments.hot_lap is not None:
        given["hot_lap"] = _YES_NO[arguments.hot_lap]
    if arguments.speeds is not None:
        given["speeds"] = tuple(arguments.speeds)
    if arguments.draft_voice is not None:
        given["draft_voice"] = "" if arguments.draft_voice == "none" else arguments.draft_voice
    if arguments.loudness is not None:
        given["loudness_lufs"] = _loudness(arguments.loudness)
    if not given:
        raise SyncviewError("there is nothing to change", "See syncview lesson set --help.")
    lesson = checked_choices(replace(project.lesson, **given))
    save(replace(project, lesson=lesson), arguments.project)
    _print_choices(lesson, given)
    return 0


def _print_choices(lesson: LessonChoices, given: dict[str, Any]) -> None:
    for name in given:
        value = getattr(lesson, name)
        shown = ", ".join(value) or "any" if isinstance(value, tuple) else value
        print(f"{name.removesuffix('_s').removesuffix('_lufs').replace('_', ' ')}: {shown}")


def _loudness(text: str) -> float:
    from syncview.errors import SyncviewError

    try:
        return LOUDNESS[text] if text in LOUDNESS else float(text)
    except ValueError:
        raise SyncviewError(f"“{text}” is no loudness", "Say ebu, web, or a number of LUFS such as -16.") from None


def run_pin(arguments: argparse.Namespace) -> int:
    """Pin or free a stretch."""
    from syncview.plan.lesson_choices import ChoiceError, PinnedPace, checked_choices
    from syncview.project import load, save

    project = load(arguments.project)
    begin_m, end_m = arguments.begin_m, arguments.end_m
    touching = tuple(pin for pin in project.lesson.pinned if pin.begin_m < end_m and begin_m < pin.end_m)
    kept = tuple(pin for pin in project.lesson.pinned if pin not in touching)
    if arguments.free and not touching:
        raise ChoiceError(f"no pin touches {begin_m:g} m to {end_m:g} m", _pins_words(project.lesson.pinned))
    if touching and not arguments.free:
        raise ChoiceError(
            f"{_pin_words(touching[0])} is pinned already", "Free it first with --free, or pin another stretch."
        )
    pins = kept if arguments.free else (*kept, PinnedPace(begin_m, end_m, arguments.speed))
    lesson = checked_choices(replace(project.lesson, pinned=tuple(sorted(pins, key=lambda pin: pin.begin_m))))
    save(replace(project, lesson=lesson), arguments.project)
    print(_pins_words(lesson.pinned))
    return 0


def _pin_words(pin: PinnedPace) -> str:
    return f"{pin.begin_m:g} m to {pin.end_m:g} m at {pin.speed}"


def _pins_words(pins: tuple[PinnedPace, ...]) -> str:
    return f"Pinned: {'; '.join(map(_pin_words, pins)) or 'nothing'}."


def run_hold(arguments: argparse.Namespace) -> int:
    """Set or free the hold at a note."""
    from syncview.errors import SyncviewError
    from syncview.notes.note import hold
    from syncview.project import load, save

    try:
        seconds = None if arguments.seconds == "free" else float(arguments.seconds)
    except ValueError:
        raise SyncviewError(f"“{arguments.seconds}” is no time", "Give seconds, or 'free'.") from None
    project = load(arguments.project)
    save(replace(project, notes=hold(project.notes, arguments.key, seconds)), arguments.project)
    print(f"{arguments.key}: {'the plan decides' if seconds is None else f'held {seconds:g} s'}")
    return 0


def run_voice(arguments: argparse.Namespace) -> int:
    """Attach or remove voices."""
    from syncview.errors import SyncviewError
    from syncview.project import load, save

    if (arguments.whole is None) == (arguments.key is None):
        raise SyncviewError("it is not clear whose voice this is", "Give a note's KEY, or --whole FILE without one.")
    if arguments.whole is not None:
        return _cut_whole(arguments)
    project = _with_voice(load(arguments.project), arguments)
    save(project, arguments.project)
    return 0


def _with_voice(project: Project, arguments: argparse.Namespace) -> Project:
    from syncview.lesson.voices import attach_voice
    from syncview.notes.note import give_voice

    if arguments.remove:
        print(f"{arguments.key}: no voice")
        return replace(project, notes=give_voice(project.notes, arguments.key, None))
    changed, length_s = attach_voice(project, arguments.key, arguments.file, arguments.project)
    print(f"{arguments.key}: {arguments.file.name}, {float(length_s):.2f} s")
    return changed


def _cut_whole(arguments: argparse.Namespace) -> int:
    from syncview.lesson.voices import attach_whole
    from syncview.project import load, save

    with progress_shown() as progress:
        whole = attach_whole(load(arguments.project), arguments.whole, arguments.project, progress=progress)
    save(whole.project, arguments.project)
    for sentence in whole.remarks:
        warn(sentence)
    print_table(
        ("note", "from", "to"),
        [(key, f"{float(piece.begin_s):.2f} s", f"{float(piece.end_s):.2f} s") for key, piece in whole.pieces],
    )
    return 0


def run_draw(arguments: argparse.Namespace) -> int:
    """Draw on a still, or clear it."""
    from syncview.errors import SyncviewError
    from syncview.gauges.drawing import Drawing
    from syncview.notes.note import draw, find
    from syncview.project import load, save

    project = load(arguments.project)
    old = find(project.notes, arguments.key).drawings
    if arguments.clear:
        drawings: tuple[Drawing, ...] = ()
    elif arguments.kind is None or arguments.begin is None or arguments.end is None:
        raise SyncviewError("a drawing needs its kind and two places", "For example: arrow 0.3,0.8 0.5,0.6")
    else:
        drawings = (*old, Drawing(arguments.kind, _place(arguments.begin), _place(arguments.end), arguments.label))
    save(replace(project, notes=draw(project.notes, arguments.key, drawings)), arguments.project)
    print(f"{arguments.key}: {len(drawings)} drawing{'' if len(drawings) == 1 else 's'}")
    return 0


def _place(text: str) -> Place:
    from syncview.errors import SyncviewError

    try:
        across, down = (float(part) for part in text.split(","))
    except ValueError:
        raise SyncviewError(f"“{text}” is no place in the picture", "Write two shares as X,Y: 0.5,0.62") from None
    return across, down
