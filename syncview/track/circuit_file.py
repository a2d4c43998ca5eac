"""Circuit files: TOML that people read, edit and share.

Reading is strict (an unknown key is named); writing changes only what changed, so that comments and order survive.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np

from syncview.errors import OutputError, describe_os_error
from syncview.output_file import whole_file
from syncview.track.circuit import MEND, Circuit, CircuitError, LinePoints, StartLine, check
from syncview.track.corners import Corner
from syncview.track.markers import Marker

if TYPE_CHECKING:
    from tomlkit import TOMLDocument
    from tomlkit.items import AoT, Table

Matches: TypeAlias = Callable[[Mapping[str, Any], dict[str, Any]], bool]

FORMAT = "syncview circuit"
SCHEMA = 1
LARGEST_BYTES = 20_000_000
"""A circuit file is some tens of kilobytes; what is far larger is something else, and is not read."""

_KEYS: dict[str, dict[str, tuple[type, ...]]] = {
    "": {"format": (str,), "schema": (int,), "name": (str,), "lap_length_m": (float, int), "start_line": (dict,),
         "line": (dict,), "curvature": (dict,), "corner": (list,), "marker": (list,)},
    "start_line": {"lat": (float, int), "lon": (float, int), "heading_deg": (float, int)},
    "line": {"points": (list,)},
    "curvature": {"per_km": (list,)},
    "corner": {"number": (int,), "name": (str,), "side": (str,), "entry_m": (float, int), "apex_m": (float, int),
               "apexes_m": (list,), "exit_m": (float, int), "flat": (bool,), "reason": (str,)},
    "marker": {"key": (str,), "kind": (str,), "at_m": (float, int), "side": (str,), "words": (str,), "corner": (int,)},
}  # fmt: skip
"""Every key of every table, with the types that it may have."""
_WORDS = {str: "words in quotes", int: "a whole number", float: "a number", dict: "a table", list: "a list",
          bool: "true or false"}  # fmt: skip
_SIDES = {"corner": ("left", "right"), "marker": ("left", "right", "across")}

_HEAD = """\
# A circuit for syncview. All distances are metres along the lap from the start line.
# Edit freely: names, corners, markers; syncview says what does not fit. "syncview circuit --help" has commands for it.
"""


def read_circuit(path: Path) -> Circuit:
    """Read and check a circuit file; raises `CircuitError` naming the place of any fault."""
    return circuit_of(_text_of(path), where=str(path))


def circuit_of(text: str, *, where: str) -> Circuit:
    """A circuit from the text of its file."""
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise CircuitError(f"this is not a TOML file ({error})", "Mend that place in the file.", where=where) from None
    try:
        circuit = _from_document(document)
    except _Fault as fault:
        raise CircuitError(str(fault), MEND, where=where) from None
    check(circuit, where=where)
    return circuit


def write_new(circuit: Circuit, path: Path, *, overwrite: bool) -> None:
    """Write a circuit to a new file; raises `CircuitError` or `OutputError`."""
    _write(path, _new_text(circuit), overwrite=overwrite)


def write_changes(circuit: Circuit, path: Path) -> None:
    """Change an existing file to hold this circuit's name, corners and markers; the rest stays as it was written."""
    import tomlkit

    document = tomlkit.parse(_text_of(path))
    if document.get("name") != circuit.name:
        document["name"] = circuit.name
    fresh = ""
    for name, rows, matches in (
        ("corner", [_corner_row(corner) for corner in circuit.corners], _corner_matches),
        ("marker", [_marker_row(marker) for marker in circuit.markers], _marker_matches),
    ):
        if name in document and rows:
            _sync(document, name, rows, matches)
        elif name in document:
            document.remove(name)
        else:
            fresh += _as_text(name, rows)
    _write(path, _spliced(tomlkit.dumps(document), fresh), overwrite=True)


def _spliced(text: str, fresh: str) -> str:
    """Put new tables before the long lists of numbers, where people look for them."""
    if not fresh:
        return text
    shape = re.search(r"(?:^#[^\n]*\n)*^\[(start_line|line|curvature)\]", text, re.MULTILINE)
    at = len(text) if shape is None else shape.start()
    return f"{text[:at]}{fresh}{text[at:]}" if text[:at].endswith("\n") else f"{text[:at]}\n{fresh}{text[at:]}"


def _text_of(path: Path) -> str:
    try:
        if path.is_file() and path.stat().st_size > LARGEST_BYTES:
            raise CircuitError("this is too large to be a circuit file", "Choose another file.", where=path)
        return path.read_text("utf-8")
    except OSError as error:
        problem = f"the circuit file cannot be read ({describe_os_error(error)})"
        raise CircuitError(problem, "Check the path, or make one with: syncview circuit make.", where=path) from error
    except UnicodeDecodeError as error:
        raise CircuitError("this is not a TOML file (not UTF-8 text)", "Choose another file.", where=path) from error


def _write(path: Path, text: str, *, overwrite: bool) -> None:
    circuit_of(text, where=str(path))  # what could not be read again is never written
    try:
        with whole_file(path, overwrite=overwrite) as part:
            part.write_text(text, "utf-8", newline="\n")
            part.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o644)
    except OSError as error:
        problem = f"the circuit file cannot be written ({describe_os_error(error)})"
        raise OutputError(problem, "Choose another folder.", where=path) from error


class _Fault(Exception):
    """Something in the file is not as it must be."""


def _from_document(document: dict[str, Any]) -> Circuit:
    if document.get("format") != FORMAT:
        raise _Fault(f"this is not a circuit file: “format” is not “{FORMAT}”")
    schema = document.get("schema")
    if not isinstance(schema, int) or isinstance(schema, bool) or schema < 1:
        raise _Fault("“schema” is not a number")
    if schema > SCHEMA:
        raise _Fault(f"it was made by a newer syncview (schema {schema}, this one reads up to {SCHEMA})")
    _check_table(document, "", "the file", optional={"start_line", "line", "curvature", "corner", "marker"})
    line, bends = document.get("line"), document.get("curvature")
    return Circuit(
        name=document["name"],
        lap_length_m=float(document["lap_length_m"]),
        corners=tuple(_corner(row, n) for n, row in enumerate(document.get("corner", ()), 1)),
        markers=tuple(_marker(row, n) for n, row in enumerate(document.get("marker", ()), 1)),
        start_line=_start_line(document.get("start_line")),
        line=None if line is None else _points(line),
        curvature_1pm=None if bends is None else _curvature(bends),
    )


def _check_table(table: object, kind: str, place: str, *, optional: set[str]) -> None:
    if not isinstance(table, dict):
        raise _Fault(f"{place} is not a table")
    known = _KEYS[kind]
    for key, value in table.items():
        if key not in known:
            near = difflib.get_close_matches(key, known, 1)
            raise _Fault(f"{place}: the key “{key}” is not known" + (f"; is “{near[0]}” meant" if near else ""))
        if not isinstance(value, known[key]) or (isinstance(value, bool) and bool not in known[key]):
            raise _Fault(f"{place}: “{key}” must be {_WORDS[known[key][0]]}")
        if isinstance(value, float) and not np.isfinite(value):
            raise _Fault(f"{place}: “{key}” is not a finite number")
    for key in known:
        if key not in table and key not in optional:
            raise _Fault(f"{place}: “{key}” is missing")
    sides = _SIDES.get(kind)
    if sides and "side" in table and table["side"] not in sides:
        raise _Fault(f"{place}: “side” is “{table['side']}”; it must be {' or '.join(sides)}")


def _start_line(table: object) -> StartLine | None:
    if table is None:
        return None
    _check_table(table, "start_line", "[start_line]", optional=set())
    assert isinstance(table, dict)
    return StartLine(float(table["lat"]), float(table["lon"]), float(table["heading_deg"]))


def _points(table: dict[str, Any]) -> LinePoints:
    _check_table(table, "line", "[line]", optional=set())
    for n, point in enumerate(table["points"], 1):
        if not isinstance(point, list) or len(point) != 2 or not all(map(_finite, point)):
            raise _Fault(f"[line]: point {n} must be [latitude, longitude] in degrees")
    pairs = np.array(table["points"], dtype=np.float64).reshape(-1, 2)
    return LinePoints(pairs[:, 0], pairs[:, 1])


def _curvature(table: dict[str, Any]) -> np.ndarray[Any, np.dtype[np.float64]]:
    _check_table(table, "curvature", "[curvature]", optional=set())
    _check_numbers(table["per_km"], "[curvature]: “per_km”")
    return np.array(table["per_km"], dtype=np.float64) / 1000


def _corner(row: object, n: int) -> Corner:
    number = row.get("number", f"in place {n}") if isinstance(row, dict) else n
    place = f"corner {number}"
    _check_table(row, "corner", place, optional={"name", "apexes_m", "flat", "reason"})
    assert isinstance(row, dict)
    _check_numbers(row.get("apexes_m", []), f"{place}: “apexes_m”")
    apexes = tuple(float(at_m) for at_m in row.get("apexes_m") or [row["apex_m"]])
    return Corner(row["number"], row["side"], float(row["entry_m"]), float(row["apex_m"]), float(row["exit_m"]),
                  row.get("flat", False), apexes, row.get("reason", ""), row.get("name", ""))  # fmt: skip


def _marker(row: object, n: int) -> Marker:
    key = row.get("key") if isinstance(row, dict) else None
    place = f"marker “{key}”" if key else f"marker in place {n}"
    _check_table(row, "marker", place, optional={"side", "corner"})
    assert isinstance(row, dict)
    return Marker(row["key"], row["kind"], float(row["at_m"]), row["words"], row.get("side"), row.get("corner"))


def _finite(value: object) -> bool:
    return isinstance(value, float | int) and not isinstance(value, bool) and bool(np.isfinite(value))


def _check_numbers(values: Sequence[object], place: str) -> None:
    for n, value in enumerate(values, 1):
        if not _finite(value):
            raise _Fault(f"{place} must be numbers, and value {n} is none")


def _corner_row(corner: Corner) -> dict[str, Any]:
    row: dict[str, Any] = {"number": corner.number, "name": corner.name, "side": corner.side,
                           "entry_m": _tenth(corner.entry_m), "apex_m": _tenth(corner.apex_m)}  # fmt: skip
    if len(corner.apexes) > 1:
        row["apexes_m"] = [_tenth(at_m) for at_m in corner.apexes]
    return {**row, "exit_m": _tenth(corner.exit_m), "flat": corner.flat, "reason": corner.reason}


def _marker_row(marker: Marker) -> dict[str, Any]:
    row = {"key": marker.key, "kind": marker.kind, "at_m": _tenth(marker.at_m), "side": marker.side,
           "words": marker.words, "corner": marker.corner}  # fmt: skip
    return {key: value for key, value in row.items() if value is not None}


def _tenth(at_m: float) -> float:
    return float(round(at_m, 1))


def _corner_matches(table: Mapping[str, Any], row: dict[str, Any]) -> bool:
    """The same corner, perhaps renumbered or joined to a neighbour: they share an apex."""
    ours, theirs = row.get("apexes_m", [row["apex_m"]]), table.get("apexes_m", [table.get("apex_m")])
    return bool({_tenth(a) for a in ours} & {_tenth(a) for a in theirs})


def _marker_matches(table: Mapping[str, Any], row: dict[str, Any]) -> bool:
    return bool(table.get("key") == row["key"])


def _sync(document: TOMLDocument, name: str, rows: list[dict[str, Any]], matches: Matches) -> None:
    """Bring an array of tables to these rows: matching tables are changed in place, the others go or come."""
    tables: AoT | list[Table] = document.get(name, [])
    if len(tables) != len(rows):
        for place in reversed(range(len(tables))):
            if not any(matches(tables[place], row) for row in rows):
                del tables[place]
    old = list(tables)
    if len(old) == len(rows):
        for table, row in zip(old, rows, strict=True):
            _change(table, row)
        return
    for place, row in enumerate(rows):
        match = next((table for table in old if matches(table, row)), None)
        if match is None:
            tables.insert(place, _new_table(row))
        else:
            old.remove(match)
            _change(match, row)
    for table in old:  # of two that shared an apex, the later one
        tables.remove(table)


def _change(table: Table, row: dict[str, Any]) -> None:
    for key in [key for key in table if key not in row]:
        table.remove(key)
    for key, value in row.items():
        if key not in table or table[key] != value:
            table[key] = value


def _new_table(row: dict[str, Any]) -> Table:
    import tomlkit

    table = tomlkit.table()
    for key, value in row.items():
        table.add(key, value)
    table.add(tomlkit.nl())
    return table


def _as_text(name: str, rows: list[dict[str, Any]]) -> str:
    """An array of tables, a blank line behind each."""
    import tomlkit

    texts = []
    for row in rows:
        document, tables = tomlkit.document(), tomlkit.aot()
        tables.append(_new_table(row))
        document[name] = tables
        texts.append(f"{tomlkit.dumps(document).strip()}\n\n")
    return "".join(texts)


def _new_text(circuit: Circuit) -> str:
    import tomlkit

    document = tomlkit.parse(_HEAD)
    document["format"], document["schema"] = FORMAT, SCHEMA
    document["name"], document["lap_length_m"] = circuit.name, round(circuit.lap_length_m, 2)
    corners = _as_text("corner", [_corner_row(corner) for corner in circuit.corners])
    markers = _as_text("marker", [_marker_row(marker) for marker in circuit.markers])
    return f"{tomlkit.dumps(document)}\n{corners}{markers}{_shape_text(circuit).lstrip()}"


def _shape_text(circuit: Circuit) -> str:
    """The numbers that nobody reads, last in the file and several on a line."""
    parts = []
    if circuit.start_line is not None:
        start = circuit.start_line
        parts.append(f"\n[start_line]\n# On the first point of the line; heading clockwise from north.\n"
                     f"lat = {start.lat_deg:.8f}\nlon = {start.lon_deg:.8f}\n"
                     f"heading_deg = {start.heading_deg:.1f}\n")  # fmt: skip
    if circuit.line is not None:
        pairs = [f"[{a:.8f}, {b:.8f}]" for a, b in zip(circuit.line.lat_deg, circuit.line.lon_deg, strict=True)]
        parts.append("\n[line]\n# Latitude and longitude, WGS 84, from the start line on; the last joins the first.\n"
                     f"points = [\n{_in_lines(pairs, 4)}]\n")  # fmt: skip
    if circuit.curvature_1pm is not None:
        bends = [f"{value:.2f}" for value in circuit.curvature_1pm * 1000]
        parts.append("\n[curvature]\n# How the lap bends, in equal steps from the start line on: 1000 over the radius "
                     f"in metres, left positive.\nper_km = [\n{_in_lines(bends, 16)}]\n")  # fmt: skip
    return re.sub(r"-(0\.0+)\b", r"\1", "".join(parts))


def _in_lines(items: list[str], each: int) -> str:
    return "".join(f"  {', '.join(items[i : i + each])},\n" for i in range(0, len(items), each))
