"""Readers of what has no number: flat, lifting, no brakes, the wheel, the throttle's place, a late apex."""

from __future__ import annotations

import re

from syncview.notes import claim_patterns as p
from syncview.notes.claim_reading import Reading

_PART_ONLY = "it may be of a part of the way only"
_PLAIN_FLAT = re.compile(
    r"^ (?:.* )?(?:is|it's|are|stays?|stay|keep it|take it|taken|easily|easy|completely|totally|simply|just|still|"
    r"absolutely|definitely|always|comfortably)(?: (?:easily|completely|totally|simply|just|still|all|absolutely))* $"
)
_FLAT_ENDS = re.compile(rf"^ (?:,|in (?:{p.G}|#|the dry)|here |through (?:here|it|this)|for everyone |$)")
_LIMITS = re.compile(r" (?:until|till|before|yet|after|past|too|from|between|moment|then|when|once|wait) ")
_WHILE = re.compile(r" (?:while|during|mid corner|middle|turn\w*|in the corner|entry) ")
"""Words by which “no brakes” may be of a part of the corner."""
_NO_PEDAL_FLAT = re.compile(
    r" (?:kerbs?|curbs?|road|surface|ground|exit|entry|run off|camber|track|tyres?|tires?|straight|hill|inside|"
    r"outside) "
)
"""What may be flat without a pedal."""
_LESS = ("off", "off the", "more", "less", "close the", "ease the", "lift the")
_NOT_LESS = "".join(rf"(?<!{words} )" for words in _LESS)
_WHEEL = r"(?:the |your )?(?:wheel|steering|hands)"
_THEN = r"(?:until|till|only when|only once|when|once|as|after|before)"
_OPENS = (
    r"(?:opens?(?: up)?|opening|unwinds?|unwinding|unwound|comes? back|coming back|is back|is coming back|comes? off)"
)
_STRAIGHT = r"(?:is |are |goes |comes |almost |nearly )*straight(?:ens?|ened)?"


_SOMEHOW = re.compile(
    r" (?:at|by|on|just|right|so|too|that|as|late|later|early|earlier|hard|harder|more|less|again|twice|while|where) "
)
"""“never brake at the fifty”, “don't brake so hard”: how or where not, behind the verb."""


def read_no_brakes(reading: Reading) -> None:
    """“no brakes”; with “until” or “before” it speaks of a place, and is no claim of its own."""
    for match in reading.matches(
        r"(?:no|without|zero) (?:brakes?|braking|brake pedal)(?: at all| needed| here)?|"
        r"(?:do not|don't|does not|doesn't|never) need (?:the |any |to )?(?:brakes?|braking)|"
        r"needs? no (?:brakes?|braking)|brakes? (?:is|are) not needed|"
        r"(?:do not|don't|never|not) (?:brake|(?:touch|use) the brakes?)(?: at all| here)?|"
        r"(?:stay|keep|stays) off the brakes?"
    ):
        after = reading.sentence.said[match.end() :]
        clause = f" {after.partition(' ,')[0].strip()} "
        if not (_SOMEHOW.match(clause) or _LIMITS.search(clause) or _WHILE.search(reading.sentence.said)):
            reading.claim("no_brakes", match, negated=False)


def read_flat(reading: Reading) -> None:
    """“is flat”, “do not lift”, “a small lift”; “then flat” is of a part of the corner, which is not compared."""
    for match in reading.matches(
        r"(?:do not|don't|never|no|not|without|no need to|no need for) (?:a )?lift(?:ing)?(?: at all| here)?|"
        r"(?:do not|don't|does not|doesn't|never|no) need (?:a |any |for a |to )?lift"
    ):
        after = reading.sentence.said[match.end() :]
        doubt = _PART_ONLY if _LIMITS.search(f" {after.strip()} ") else ""
        reading.claim("flat", match, role="held", doubt=doubt, negated=False)
    for match in reading.matches(
        r"(?:(?:a|just a|only a|small|little|brief|short|tiny|slight|quick|with a) )+lift|"
        r"(?:just|only|must|have to|need to|got to) lift"
    ):
        reading.claim("lift", match)
    if re.match(r" lift (?!off|at|before|after|past|when)", reading.said):
        match = reading.matches("lift")[0]
        reading.claim("lift", match)
    for match in reading.matches(
        r"(?:full throttle|full power|foot down|foot in) (?:all the way(?: through)?|throughout)"
    ):
        doubt = _PART_ONLY if re.match(r" (?:to|from|until|after|up) ", reading.said[match.end() :]) else ""
        reading.claim("flat", match, role="held", doubt=doubt)
    for match in reading.matches(r"foot (?:stays?|remains?|is|stayed) (?:down|in|planted|flat)"):
        doubt = "" if _FLAT_ENDS.match(reading.said[match.end() :]) else _PART_ONLY
        reading.claim("flat", match, role="held", doubt=doubt)
    for match in reading.matches(r"(?P<no>not (?:quite )?|never |isn't |almost |nearly )?flat(?: out)?"):
        before, after = reading.sentence.said[: match.start()], reading.sentence.said[match.end() :]
        if re.match(r" (?:spot|spots|tyre|tire|floor|kerb|curb|bit|bottom|road|part|surface)\b", after):
            continue
        plain = not before.strip() or _PLAIN_FLAT.match(re.split(r" [,:](?= )", before)[-1]) is not None
        whole = plain and _FLAT_ENDS.match(after) is not None and not _LIMITS.search(after)
        whole = whole and not _NO_PEDAL_FLAT.search(f"{before} ")
        no = (match["no"] or "").strip()
        doubt = "" if whole and no not in ("almost", "nearly", "not quite") else _PART_ONLY
        negated = no in ("not", "never", "isn't")
        reading.claim("flat", match, role="held", negated=negated, doubt=doubt)


def read_states(reading: Reading) -> None:
    """The wheel, the throttle's place against the apex, and the apex itself."""
    _read_wheel(reading)
    throttle = rf"(?P<full>full (?:throttle|power)|flat|full)|{_NOT_LESS}{p.THROTTLE_WORD}"
    for match in reading.matches(
        rf"(?:{throttle})(?: (?:is|gets|cracked|open|opened|opens|on|again|back|just|right|already|comes?|well))* "
        r"(?P<side>before|at|by|past|after|from) (?:the )?apex"
    ):
        side = {"by": "at", "from": "after", "past": "after"}.get(match["side"], match["side"])
        reading.claim("throttle_place", match, role=f"{'full' if match['full'] else 'pickup'} {side}")
    for match in reading.matches(
        r"(?:very )?(?P<a>late|early|later|earlier) apex|"
        r"apex(?:es)?(?: it| is| comes)?(?: very| quite)? (?P<b>late|early)"
    ):
        role = "late" if (match["a"] or match["b"]).startswith("late") else "early"
        reading.claim("apex_timing", match, role=role)


def _read_wheel(reading: Reading) -> None:
    subject = re.search(rf" (?:full|flat|{p.THROTTLE_WORD}) ", reading.sentence.said)
    full = re.search(r" (?:full|flat) ", reading.sentence.said)
    who = "full" if full else "pickup" if subject else ""
    doubt = "" if who else "it does not say what the wheel is waited for with"
    for match in reading.matches(rf"{_THEN} (?:(?:you|we) )?let(?:ting)? {_WHEEL} (?:unwind|open|come back|run)"):
        reading.claim("wheel", match, role=f"{who} opens".strip(), negated=False, doubt=doubt)
    for level, state in (("straight", _STRAIGHT), ("opens", _OPENS)):
        for match in reading.matches(rf"{_THEN} {_WHEEL}(?: (?:is|are|starts to|begins to))* {state}"):
            reading.claim("wheel", match, role=f"{who} {level}".strip(), negated=False, doubt=doubt)
    for match in reading.matches(rf"{_THEN} (?:you|it) (?P<do>open|unwind|straighten)(?: up)? {_WHEEL}"):
        level = "straight" if match["do"] == "straighten" else "opens"
        reading.claim("wheel", match, role=f"{who} {level}".strip(), negated=False, doubt=doubt)
    for match in reading.matches(rf"(?P<do>open|unwind|straighten)(?: up)? {_WHEEL}(?: ,| and)* then(?= full )"):
        level = "straight" if match["do"] == "straighten" else "opens"
        reading.claim("wheel", match, role=f"full {level}", negated=False)
    for match in reading.matches("wheel almost straight"):
        reading.claim("wheel", match, role="full straight", negated=False)
    for match in reading.matches(rf"(?:wait|waits|waiting|patient)(?: \w+)? (?:for|on) {_WHEEL}"):
        reading.claim("wheel", match, role="full opens", negated=False)
