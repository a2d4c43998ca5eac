"""The command line: parses words, calls one function, says what came of it. It computes nothing itself.

Each command module adds its parsers and holds the handlers; handlers import what they need when they run, so that
`syncview --help` starts fast.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from syncview import __version__
from syncview.cli import (
    align,
    check,
    circuit,
    conditions,
    consistency,
    corners,
    demo,
    desk,
    export,
    inspect,
    laps,
    lesson,
    new,
    notes,
    picture,
    relink,
    render,
    sheet,
)
from syncview.errors import SyncviewError

_EPILOG = """\
the usual way:
  syncview new monday --recording onboard.mp4 --log run.csv     make a project
  syncview align monday                                         put picture and data on one clock
  syncview laps monday                                          see the laps; the best one is taught
  syncview circuit make monday circuit.toml                     once for every circuit: corners to be named, markers
  syncview circuit use monday circuit.toml                      the same corners for every session there
  syncview corners monday                                       what the data say about each corner
  syncview notes draft monday                                   a first note for every corner, to be edited
  syncview lesson plan monday                                   how the slow motion waits for the words
  syncview lesson film monday lesson.mp4                        hot lap, slow breakdown, stills, captions, chapters
  syncview export monday lesson                                 film, captions, chapters, a clip per corner
  syncview desk monday                                          all of this in a window; so does syncview alone
  syncview demo somewhere                                       all of this on the sample that comes along

exit codes: 0 done, 1 a fault not listed here, 2 the command was not understood, 3 recording, 4 log or caption file,
5 clock unsure or not found, 6 project or circuit file, 7 output, 8 note or template, 9 a note disagrees
with the data, 130 stopped by you

Driving figures hold for that car, tyres, surface and weather only: build up to them with margin, on closed circuits;
the circuit's rules, flags, marshals and a qualified instructor come first. Nobody operates this while driving.
"""


_COMMANDS = (
    desk, new, inspect, align, laps, circuit, corners, consistency, picture, notes, check, conditions, lesson, render,
    export, sheet, relink, demo,
)  # fmt: skip
"""In the order in which they are listed."""


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="syncview",
        description="Onboard picture and car log on one clock: corner facts, notes, gauges and the finished lesson.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"syncview {__version__}")
    commands = top.add_subparsers(title="commands", metavar="COMMAND")
    for module in _COMMANDS:
        module.add_to(commands)
    top.set_defaults(run=desk.run, project=None)
    return top


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    from syncview_codecs.errors import CodecError

    arguments = parser().parse_args(words)
    try:
        return int(arguments.run(arguments))
    except SyncviewError as error:
        print(f"syncview: {error}", file=sys.stderr)
        return error.exit_code
    except CodecError as error:
        print(f"syncview: {error}", file=sys.stderr)
        return 4
    except KeyboardInterrupt:
        print("\nsyncview: stopped. Nothing half-written is left.", file=sys.stderr)
        return 130
    except BrokenPipeError:  # the reader of our output closed it, as `| head` does
        sys.stderr.close()
        return 0
