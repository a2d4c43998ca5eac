"""Readers of pedals, speeds and gears."""

from __future__ import annotations

import re

from syncview.notes import claim_patterns as p
from syncview.notes.claim_reading import Reading, clause_of
from syncview.notes.claims import Quantity
from syncview.shown_units import BAR_PA, KMH_MPS, MPH_MPS, PSI_PA


def read_pedals(reading: Reading) -> None:
    """“70 % brake”, “about half the pedal”, “half throttle”, “62 bar”."""
    pedal = rf"(?P<pedal>brake pressure|brake pedal|{p.BRAKE_WORD}|{p.THROTTLE_WORD}|pedal|pressure|peak)"
    after = rf"(?: (?:of )?(?:the )?{pedal})?"
    no_pedal = (
        r"(?! of the (?:brakes?|braking|throttle) (?:is|are|gets?|happens?) )"
        r"(?! (?:of )?(?:the |your )?(?:grip|effort|pace|commitment|time|slip|corner|track|lap)\b)"
    )
    for match in reading.matches(rf"{p.ABOUT}(?P<n>{p.NUM}) {p.PERCENT}{no_pedal}{after}"):
        _claim_pedal(reading, match, reading.number(match["n"]).value / 100)
    shares = {"half": 0.5, "quarter": 0.25, "third": 1 / 3, "three quarters": 0.75, "two thirds": 2 / 3}
    said_as = r"(?P<share>half|quarter|third|#\d+# quarters|#\d+# thirds)"
    for match in reading.matches(rf"{p.ABOUT}(?:(?:a|one|#\d+#) )?{said_as} (?:of )?(?:the )?{pedal}"):
        share = match["share"]
        if share not in shares:
            token, _, parts = share.partition(" ")
            share = f"{ {2.0: 'two', 3.0: 'three'}.get(reading.number(token).value, '') } {parts}"
        if share in shares:
            _claim_pedal(reading, match, shares[share])
    for match in reading.matches(rf"{p.ABOUT}(?P<n>{p.NUM}) (?P<unit>bar|psi)(?: (?:of )?(?:the )?(?:brakes?|peak))?"):
        if not re.search(r" (?:tyres?|tires?|hot|cold|pressures|boost|oil|fuel) ", reading.sentence.said):
            pascals = BAR_PA if match["unit"] == "bar" else PSI_PA
            doubt = "it is not the peak" if p.NOT_PEAK.search(clause_of(reading, match)) else ""
            reading.claim("brake_pressure", match, value=reading.number(match["n"]).value * pascals, unit="Pa",
                          role="peak", doubt=doubt)  # fmt: skip


_FROM_TO = re.compile(rf" from (?:about )?{p.NUM}(?: {p.PERCENT})? (?:down )?to $")


def _claim_pedal(reading: Reading, match: re.Match[str], share: float) -> None:
    said = match["pedal"] or ""
    name = "throttle" if re.fullmatch(p.THROTTLE_WORD, said) else "brake"
    if said in ("", "pedal", "pressure", "peak"):
        before = [
            (found.end(), kind)
            for kind, pattern in (("brake", p.BRAKE_WORD), ("throttle", p.THROTTLE_WORD))
            for found in re.finditer(rf"(?<= ){pattern}(?= )", reading.sentence.said)
        ]
        nearest = [kind for end, kind in before if end <= match.start()]
        name = max((e, k) for e, k in before if e <= match.start())[1] if nearest else "pedal"
        if name == "pedal" and len({kind for _, kind in before}) == 1:
            name = before[0][1]
    quantity: Quantity = "pedal" if name == "pedal" else "throttle" if name == "throttle" else "brake"
    doubt = ""
    if quantity == "pedal":
        doubt = "which pedal is not said"
    elif quantity == "brake" and (
        p.NOT_PEAK.search(clause_of(reading, match)) or _FROM_TO.search(reading.sentence.said[: match.start()])
    ):
        doubt = "it may be of another moment than the hardest braking"
    reading.claim(quantity, match, value=share, unit="1", role="peak", doubt=doubt)


def read_corrections(reading: Reading) -> None:
    """“one steering correction”."""
    for match in reading.matches(rf"(?P<n>{p.NUM}|no) steering corrections?"):
        count = 0.0 if match["n"] == "no" else reading.number(match["n"]).value
        reading.claim("corrections", match, value=count, unit="1", negated=False)


_AFTER_SPEED = (
    ("exit", r"(?:on|at|onto|by) (?:the )?exit|exit|onto the straight"),
    ("entry", r"(?:at|on) (?:the )?(?:entry|turn in)|into (?:the |it)?(?:corner|turn|bend|hairpin)?"),
    ("slowest", rf"(?:only |right )?(?:at|in|through|around|by|over|for) (?:the )?{p.SLOWEST}"),
    (
        "brake",
        r"(?:at|by) the end of the straight|before (?:the )?brak\w+|when (?:you|the) brakes?|at the braking point",
    ),
)
_JOIN = r"(?: (?:is|of|at|with|:|,|speed|reads?|should|be|we|you|will|have|has|see))*"
_CARRY = r"(?:carry|carrying|carries|roll|rolling)"
_BEFORE_SPEED = (
    ("exit", rf"(?:exit|exiting|exits|comes? out|coming out)(?: speed)?{_JOIN}"),
    ("top", rf"top speed{_JOIN}"),
    ("entry", rf"(?:entry speed|turn in){_JOIN}"),
    (
        "slowest",
        rf"(?:{p.SLOWEST}|apex speed|minimum speed|{_CARRY}(?: through| in)?|keep it){_JOIN}",
    ),
    ("", rf"(?:down|slow|slow it|slowing|scrub it) to{_JOIN}"),
    ("brake", rf"{p.BRAKE_WORD}(?: hard| late| early)? (?:at|from)"),
)
_SLOWING = re.compile(r" (?:slow\w*|scrub\w*|brak\w+|com\w+|drop\w*|goes|go|down|take\w*) (?:[a-z]+ ){0,3}$")
LEAST_SPEED, MOST_SPEED = 15.0, 450.0
"""In the coach's unit; other bare numbers are hardly speeds. Common practice, no source."""


def read_speeds(reading: Reading) -> None:
    """“72 km/h at the apex”, and bare numbers where only a speed can be meant: “carry ninety-five”."""
    for match in reading.matches(rf"{p.ABOUT}(?P<n>{p.NUM}) (?P<unit>{p.SPD}){p.RELATIVE_AFTER}"):
        unit = match["unit"]
        factor = p.SPEED_MPS.get(unit, MPH_MPS if unit.startswith("mile") else KMH_MPS)
        _claim_speed(
            reading, match, factor * reading.number(match["n"]).value, _role_of_speed(reading, match), said=True
        )
    for role, after in _AFTER_SPEED:
        for match in reading.matches(rf"{p.ABOUT}(?P<n>{p.NUM})(?= (?:{after}) )"):
            _claim_bare(reading, match, role)
    for role, before in _BEFORE_SPEED:
        for match in reading.matches(rf"(?:{before}) {p.ABOUT}(?P<n>{p.NUM}){p.NO_SPEED_AFTER}"):
            beside = re.search(r" (?:before|after|past|from) the $", reading.said[: match.start()])
            if not _is_board(reading, match) and not beside:
                _claim_bare(reading, match, role)
    _read_from_to(reading)
    for match in reading.matches(rf"(?P<n>{p.NUM})(?= ,? ?(?:and |then |in )?{p.G}(?: gear)? )"):
        if re.search(r"(?:^| [,:]) $", reading.said[: match.start()]):
            _claim_bare(reading, match, "slowest")
    for match in reading.matches(
        rf"(?P<n>{p.NUM})(?= , (?:then |and )?(?:{p.BRAKE_WORD}|on the brakes?|hit the brakes?) )"
    ):
        if reading.said[: match.start()].strip() == "" and not _is_board(reading, match):
            _claim_bare(reading, match, "brake")


def _read_from_to(reading: Reading) -> None:
    """“slow it from one seventy to sixty-four”: two speeds whose places are not said."""
    down_to = rf"(?:all the way )?(?:down )?to (?P<to>{p.NUM}){p.NO_SPEED_AFTER}"
    for match in reading.matches(rf"from (?P<n>{p.NUM})(?= {down_to})"):
        to = re.compile(rf"(?P<n>{p.NUM})").match(reading.said, match.start("to"))
        if to is not None and _SLOWING.search(reading.said[: match.start()]):
            _claim_bare(reading, match, "")
            _claim_bare(reading, to, "")


def _is_board(reading: Reading, match: re.Match[str]) -> bool:
    """A number on which a board may stand; after “brake at” it is more likely a board than a speed."""
    value = reading.number(match["n"]).value
    return value % 50 == 0 and 50 <= value <= 300


def _claim_bare(reading: Reading, match: re.Match[str], role: str) -> None:
    value = reading.number(match["n"]).value
    if LEAST_SPEED <= value <= MOST_SPEED:
        _claim_speed(reading, match, value * (MPH_MPS if reading.imperial else KMH_MPS), role, said=False)


def _claim_speed(reading: Reading, match: re.Match[str], speed_mps: float, role: str, *, said: bool) -> None:
    decimals = reading.number(match["n"]).decimals
    reading.claim("speed", match, value=speed_mps, unit="m/s", role=role, unit_said=said, decimals=decimals)


def _role_of_speed(reading: Reading, match: re.Match[str]) -> str:
    """Where on the corner a speed is said to be; empty when that is not plain."""
    after, before = reading.said[match.end() :], reading.said[: match.start()]
    for role, pattern in _AFTER_SPEED:
        if re.match(rf" (?:{pattern}) ", after):
            return role
    for role, pattern in _BEFORE_SPEED:
        if re.search(rf" (?:{pattern}) $", before):
            return role
    clause = before.rpartition(" ,")[2]
    return "brake" if re.search(rf" {p.BRAKE_WORD} ", f" {clause}") and re.search(r" (?:at|from) $", before) else ""


def read_gears(reading: Reading) -> None:
    """“from fifth down to second”, “third gear”, “two gears down”."""
    _read_counts(reading)
    straight = r"(?:gear )?(?:straight |right )?(?:down )?(?:to|into)"
    for match in reading.matches(rf"(?:from )?(?P<a>{p.G})(?= {straight} {p.G}{p.PLAIN_AFTER_GEAR})"):
        _claim_gear(reading, match, match["a"], "from")
    for match in reading.matches(rf"(?:up|change up|shift up) (?:to|into) (?P<a>{p.G})(?: gear)?{p.PLAIN_AFTER_GEAR}"):
        _claim_gear(reading, match, match["a"], "up")
    _read_gear_lists(reading)
    down = r"(?:down|back|straight|right)? ?(?:to|into)"
    for match in reading.matches(rf"{down} (?P<a>{p.G})(?: gear)?{p.PLAIN_AFTER_GEAR}"):
        _claim_gear(reading, match, match["a"], "to")
    hold = r"in|stay in|keep it in|leave it in|hold|take|use|uses|grab|snatch|pull|select|pick|needs?"
    for match in reading.matches(rf"(?:(?:{hold}|find|get|then|and) )?(?P<a>{p.G}) gear"):
        _claim_gear(reading, match, match["a"], "in")
    for match in reading.matches(rf"gear (?P<n>{p.NUM})"):
        _claim_gear(reading, match, match["n"], "in")
    for match in reading.matches(rf"(?:{hold}|§+ , then) (?P<a>{p.G}){p.PLAIN_AFTER_GEAR}"):
        _claim_gear(reading, match, match["a"], "in")
    for match in reading.matches(rf"(?P<a>{p.G})"):
        if _stands_alone(reading, match):
            _claim_gear(reading, match, match["a"], "in")


def _read_counts(reading: Reading) -> None:
    for match in reading.matches(
        rf"(?P<n>{p.NUM}|a) (?:gears? (?:down|lower)|downshifts?|down shifts?|(?:shifts?|changes?) down)|"
        rf"down (?P<m>{p.NUM}|a) gears?"
    ):
        _claim_count(reading, match, match["n"] or match["m"])
    for match in reading.matches(rf"(?P<n>{p.NUM}) gears?(?= , down )"):
        _claim_count(reading, match, match["n"])
    for match in reading.matches(rf"(?P<n>{p.NUM}) down(?= (?:before|here|for|,|and))"):
        _claim_count(reading, match, match["n"], doubt="it does not say of what")


def _read_gear_lists(reading: Reading) -> None:
    """“fourth, third, second”, “down to third, then second”: passed through, and reached."""
    for match in reading.matches(rf"{p.G}(?: , (?:then |and )?{p.G})+{p.PLAIN_AFTER_GEAR}"):
        words = list(re.finditer(p.G, match[0]))
        for i, word in enumerate(words):
            one = re.compile(p.G).match(reading.said, match.start() + word.start())
            if one is not None:
                _claim_gear(reading, one, one[0], "to" if i == len(words) - 1 else "through")


def _stands_alone(reading: Reading, match: re.Match[str]) -> bool:
    """“Second.”, or an item of a list behind other claims: “…, 70 %, second, …”."""
    if reading.said.strip() == match[0]:
        return True
    before, after = reading.said[: match.start()], reading.said[match.end() :]
    return bool(re.search(r"(?:§|§ ,|§ , then|§ then) $", before) and re.match(r" (?:,.*|and .*|)$", after))


_ELSEWHERE = re.compile(
    r" (?:exit|exits|up|opens?|straight|line|way out|afterwards|later|after the apex|out of|uphill|short shift) "
)
"""Words by which a gear may be one of another place than the corner's slowest part."""


def _claim_gear(reading: Reading, match: re.Match[str], word: str, role: str) -> None:
    number = p.GEARS[word] if word in p.GEARS else reading.number(word).value
    doubt = "the facts of a corner do not hold changes up" if role == "up" else ""
    plain_down = re.match(r"down|drop", match[0])
    if role in ("in", "to") and not plain_down and _ELSEWHERE.search(reading.sentence.said):
        role = "elsewhere"
    reading.claim("gear", match, value=float(number), unit="1", role=role, doubt=doubt)


def _claim_count(reading: Reading, match: re.Match[str], word: str, doubt: str = "") -> None:
    count = reading.number(word).value if word.startswith("#") else 1.0
    if count <= 7:
        reading.claim("gears_down", match, value=count, unit="1", doubt=doubt)
