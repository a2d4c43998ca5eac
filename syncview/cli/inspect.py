"""`syncview inspect`: what a recording or a log holds."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, pairs, print_json, print_table, progress_shown, warn
from syncview.cli.new import add_log_options

if TYPE_CHECKING:
    from syncview.channels import SessionLog
    from syncview.media.recording import Recording
    from syncview_codecs.logs import LogTable


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "inspect",
        help="see what a recording or a log holds",
        description="Say what a recording or a log holds: size, rate and length of the picture; columns, units, roles "
        "and anything that was skipped in the log.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help="a recording or a log")
    add_log_options(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Inspect the file: a log by its content, anything else as a recording."""
    from syncview.errors import SyncviewError
    from syncview_codecs.errors import CodecError
    from syncview_codecs.logs import LOG_SUFFIXES, read_log

    path: Path = arguments.file
    if not path.is_file():
        raise SyncviewError(
            "there is no such file" if not path.exists() else "this is a folder", "Check the path.", where=path
        )
    try:
        table = read_log(path)
    except CodecError as not_a_log:
        if path.suffix.lower() in LOG_SUFFIXES:
            raise
        return _inspect_recording(path, not_a_log, as_json=arguments.json)
    return _inspect_log(table, arguments)


def _inspect_recording(path: Path, not_a_log: Exception, *, as_json: bool) -> int:
    from syncview.errors import MediaError
    from syncview.media.recording import open_recording

    try:
        with progress_shown() as progress:
            recording = open_recording(path, progress=progress)
    except MediaError as error:
        raise error from not_a_log
    facts = recording_facts(recording)
    if as_json:
        print_json(facts)
    else:
        print_table(("recording", path.name), [(key.replace("_", " "), _text(value)) for key, value in facts.items()],
                    left=(0, 1))  # fmt: skip
        for note in recording.notes:
            warn(note)
    return 0


def recording_facts(recording: Recording) -> dict[str, Any]:
    """What a person asks about a recording, as plain values."""
    audio = recording.audio
    return {
        "format": recording.format_name,
        "picture": f"{recording.width}x{recording.height} {recording.codec} {recording.pixel_format}",
        "shown_as": f"{recording.display_width}x{recording.display_height}",
        "turned_deg": recording.rotation_deg,
        "frames": int(recording.frames.pts.size),
        "frames_per_s": round(float(recording.nominal_rate), 5),
        "variable_rate": recording.is_variable_rate,
        "duration_s": round(recording.duration_s, 6),
        "first_stamp_s": round(recording.container_start_s, 6),
        "sound": None if audio is None else f"{audio.codec}, {audio.rate_hz} Hz, {audio.channels} channel(s)",
        "sound_begins_s": None if audio is None else round(audio.start_s, 6),
    }


def _text(value: object) -> str:
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)


def _inspect_log(table: LogTable, arguments: argparse.Namespace) -> int:
    from syncview.channels import match_roles

    log = match_roles(table, roles=pairs(arguments.role, "--role"), units=pairs(arguments.unit, "--unit"))
    if arguments.json:
        print_json(_log_facts(table, log))
        return 0
    steps = table.time_s[1:] - table.time_s[:-1]
    usual = float(sorted(steps)[len(steps) // 2])
    print(f"log {table.name}: {table.time_s.size} samples, {table.time_s[0]:.3f} s to {table.time_s[-1]:.3f} s, "
          f"mostly every {usual * 1000:.4g} ms")  # fmt: skip
    used = {signal.source: name for name, signal in log.signals.items()}
    rows = [
        (c.name, c.written_unit or "–", used.get(c.name, "").replace("_", " ") or "(not used)", _range(c))
        for c in table.channels
    ]
    print_table(("column", "unit", "role", "from … to, as written"), rows, left=(0, 1, 2))
    for item in table.skipped:
        warn(f"line {item.line}: {item.reason}" if item.line else item.reason)
    for sentence in log.warnings:
        warn(sentence)
    return 0


def _range(channel: Any) -> str:
    import numpy as np

    from syncview_codecs.logs.units import conversion

    finite = channel.values[np.isfinite(channel.values)]
    known = conversion(channel.written_unit)
    written = (finite - known.shift) / known.scale if known else finite
    return f"{written.min():.6g} … {written.max():.6g}"


def _log_facts(table: LogTable, log: SessionLog) -> dict[str, Any]:
    return {
        "samples": int(table.time_s.size),
        "begin_s": float(table.time_s[0]),
        "end_s": float(table.time_s[-1]),
        "columns": [{"name": c.name, "unit": c.written_unit, "si_unit": c.unit} for c in table.channels],
        "roles": {name: signal.source for name, signal in log.signals.items()},
        "skipped": [{"line": item.line, "reason": item.reason} for item in table.skipped],
        "warnings": list(log.warnings),
    }
