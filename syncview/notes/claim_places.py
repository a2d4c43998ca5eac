"""Readers of places and times: boards, metres to the apex, lap times."""

from __future__ import annotations

import re

from syncview.notes import claim_patterns as p
from syncview.notes.claim_reading import Reading, subject_of
from syncview.shown_units import YARD_M


def _length(reading: Reading, token: str, unit: str | None) -> tuple[float, bool]:
    """Metres, and whether the unit was said."""
    number = reading.number(token).value if token.startswith("#") else 1.0
    if unit is None:
        return number * (YARD_M if reading.imperial else 1.0), False
    name = unit if unit in p.LENGTH_M else unit.removesuffix("s")
    return number * p.LENGTH_M[name], True


_AT_BOARD = rf"(?:the )?(?P<board>{p.NUM})(?P<of>(?: {p.LEN})? {p.NOUN}|(?: {p.LEN})?)"
_BOARD_STEP = 50


def _board(reading: Reading, match: re.Match[str]) -> str | None:
    """The board's name: a number with a noun, or one of the usual numbers after “the”."""
    groups = match.groupdict()
    if groups.get("landmark"):
        return groups["landmark"]
    value = reading.number(groups["board"]).value
    named = groups["of"].split()[-1:] and re.fullmatch(p.NOUN, groups["of"].split()[-1])
    usual = value % _BOARD_STEP == 0 and 50 <= value <= 400 and re.search(rf"the {groups['board']}", match[0])
    return f"{value:g}" if named or usual else None


def read_boards(reading: Reading) -> None:
    """“twenty metres past the hundred board”, “at the fifty”, “between the hundred and the fifty”."""
    places = _AT_BOARD
    if reading.landmarks:
        places = rf"(?:{_AT_BOARD}|(?:the )?(?P<landmark>{'|'.join(map(re.escape, reading.landmarks))}))"
    side = rf"(?P<side>{p.BEHIND}|{p.AHEAD})"
    for match in reading.matches(rf"{p.ABOUT}(?P<n>{p.NUM}|a|one)(?: (?P<unit>{p.LEN}))? {side} {places}"):
        board = _board(reading, match)
        if board is None or (match["n"] in ("a", "one") and match["unit"] is None):
            continue
        length_m, said = _length(reading, match["n"], match["unit"])
        sign = 1 if re.fullmatch(p.BEHIND, match["side"]) else -1
        reading.claim("board", match, value=sign * length_m, unit="m", role=subject_of(reading, match), marker=board,
                      unit_said=said)  # fmt: skip
    noun = rf"(?: {p.NOUN})?"
    for match in reading.matches(rf"between the (?P<far>{p.NUM}){noun} and the (?P<near>{p.NUM}){noun}"):
        pair = f"{reading.number(match['far']).value:g} {reading.number(match['near']).value:g}"
        reading.claim("board", match, role=f"{subject_of(reading, match)} between", marker=pair)
    for match in reading.matches(rf"(?P<what>brake|braking|turn in) (?:point|marker|reference) is {places}"):
        board = _board(reading, match)
        if board is not None:
            subject = "turn_in" if match["what"] == "turn in" else "brake"
            reading.claim("board", match, role=f"{subject} at", marker=board)
    near = r"(?:just |right |exactly |slightly |shortly |a touch |a bit |a fraction |a little )?"
    how = rf"(?P<how>{near}(?:(?:at|on|by|level with)(?: about| around| roughly)?|{p.BEHIND}|{p.AHEAD}))"
    for match in reading.matches(rf"{how} {places}"):
        board = _board(reading, match)
        if board is not None:
            reading.claim("board", match, role=f"{subject_of(reading, match)} {_relation(match['how'])}", marker=board,
                          doubt=_until(reading, match))  # fmt: skip


def _relation(how: str) -> str:
    near = "just " if re.match(r"(?:just|slightly|shortly|a) ", how) else ""
    if re.search(rf"{p.BEHIND}$", how):
        return f"{near}past"
    return f"{near}before" if re.search(rf"{p.AHEAD}$", how) else "at"


def _until(reading: Reading, match: re.Match[str]) -> str:
    after = reading.said[: match.start()]
    late = after.endswith((" until ", " till ", " wait ")) or match["how"].startswith("by")
    return "it says until when, not where" if late else ""


def read_until_board(reading: Reading) -> None:
    """“no brakes until the hundred”: told, never compared."""
    for match in reading.matches(rf"(?:until|till) {_AT_BOARD}"):
        board = _board(reading, match)
        if board is not None:
            reading.claim("board", match, role="brake", marker=board, doubt="it says until when, not where")


def read_from_apex(reading: Reading) -> None:
    """“84 m before the apex”, “full throttle 30 m past the apex”, “full 31 m past”."""
    side = rf"(?P<side>{p.BEHIND}|{p.AHEAD}|from)"
    for match in reading.matches(
        rf"{p.ABOUT}(?P<n>{p.NUM}|a) (?P<unit>{p.LEN}) {side}(?: (?:the )?(?P<to>apex|turn in|corner|kerb|exit|entry))?"
    ):
        subject = subject_of(reading, match)
        if match["to"] is None and subject not in ("full", "pickup"):
            continue
        if match["side"] == "from" and subject != "brake":
            continue
        length_m, _ = _length(reading, match["n"], match["unit"])
        sign = 1 if re.fullmatch(p.BEHIND, match["side"]) else -1
        doubt = "" if match["to"] in (None, "apex") else f"the data do not hold where the {match['to']} is"
        reading.claim("from_apex", match, value=sign * length_m, unit="m", role=subject, doubt=doubt)


def read_lap_time(reading: Reading) -> None:
    """“a lap of 58.5”, “0:58.5”, “that was a 58.5”."""
    for match in reading.matches(rf"{p.ABOUT}{p.NUM}"):
        number = reading.number(match[0].rpartition(" ")[2])
        if number.clock:
            reading.claim("lap_time", match, value=number.value, unit="s", decimals=number.decimals)
    patterns = (
        rf"(?:lap time|lap|time)(?: (?:is|was|of|in|:|a|,|took|takes))* {p.ABOUT}(?P<n>{p.NUM})(?: seconds?)?"
        rf"{p.NO_SPEED_AFTER}(?! {p.SPD})",
        rf"{p.ABOUT}(?P<n>{p.NUM})(?: seconds?)? (?:for|on|round|around) (?:the|a|one|this) lap",
        rf"(?P<n>{p.NUM}) (?:on the (?:clock|watch)|is the time|is what the (?:clock|watch))",
        rf"(?:was|is|did|does|for|in) an? (?P<n>{p.NUM})(?! (?:{p.LEN}|{p.NOUN}|{p.SPD}|corner|turn|bend)\b)",
    )
    for match in reading.matches(rf"(?:was|is|lap|a) (?P<n>{p.NUM}) (?P<tenths>{p.NUM})(?= $)"):
        number, tenths = reading.number(match["n"]), reading.number(match["tenths"])
        if number.value > 20 and tenths.value <= 9 and not number.decimals and not tenths.decimals:
            reading.claim("lap_time", match, value=number.value + tenths.value / 10, unit="s", decimals=1)
    for pattern in patterns:
        for match in reading.matches(pattern):
            number = reading.number(match["n"])
            if number.value > 20 and (number.decimals or "lap" in match[0]):
                reading.claim("lap_time", match, value=number.value, unit="s", decimals=number.decimals)
