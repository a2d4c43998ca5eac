"""The English in which claims are made, as patterns over `spoken.Sentence.said` (tokens between single blanks).

`NUM` stands for a number there. Common usage, no source; every pattern has sentences in the tests' table.
"""

from __future__ import annotations

import re

from syncview.notes.claims import About
from syncview.shown_units import FOOT_M, KMH_MPS, MPH_MPS, YARD_M

GEARS = {
    word: number
    for number, words in enumerate(
        ("first 1st", "second 2nd", "third 3rd", "fourth 4th", "fifth 5th", "sixth 6th", "seventh 7th", "eighth 8th"), 1
    )
    for word in words.split()
}
G = rf"(?:{'|'.join(GEARS)})"
NUM = r"#\d+#"
ABOUT = (
    r"(?:(?P<about>about|around|roughly|approximately|maybe|some|nearly|almost|not quite|just under|just over|"
    r"a little over|a little under|at least|at most|no more than|not more than|more than|less than|over|under|above|"
    r"below|up to) )?"
)
ABOUT_MEANS: dict[str, About] = {
    "nearly": "nearly", "almost": "nearly", "not quite": "nearly", "just under": "nearly", "a little under": "nearly",
    "just over": "over", "a little over": "over", "at least": "at_least", "more than": "at_least", "over": "at_least",
    "above": "at_least", "below": "at_most", "at most": "at_most", "no more than": "at_most",
    "not more than": "at_most", "less than": "at_most", "under": "at_most", "up to": "at_most",
}  # fmt: skip

LENGTH_M = {"m": 1.0, "metre": 1.0, "meter": 1.0, "yd": YARD_M, "yard": YARD_M, "ft": FOOT_M, "feet": FOOT_M,
            "foot": FOOT_M, "car length": 4.5}  # fmt: skip
"""Car length: common practice, no source. The others: NIST SP 811, B.8."""
LEN = r"(?:m|metres?|meters?|yd|yds|yards?|ft|feet|foot|car lengths?)"
SPEED_MPS = {"km/h": KMH_MPS, "kph": KMH_MPS, "kmh": KMH_MPS, "mph": MPH_MPS, "m/s": 1.0}
SPD = r"(?:km/h|kph|kmh|kilomet(?:re|er)s? (?:an|per) hour|mph|miles? (?:an|per) hour|m/s)"
PERCENT = r"(?:%|per cent|percent)"
BEHIND = r"(?:past|after|beyond|behind)"
AHEAD = r"(?:before|short of|in front of|ahead of|shy of)"
NOUN = r"(?:board|boards|marker|markers|sign|mark|panel)"

NO_SPEED_AFTER = (
    rf"(?! (?:{LEN}|{PERCENT}|{NOUN}|seconds?|s|gears?|rpm|bar|psi|degrees?|times?|tenths?|laps?|apexes|corners?|"
    rf"hundredths|more|less|faster|slower|quicker|down|up|steering|corrections?|minutes?|hours?|years?|litres?)\b)"
)
RELATIVE_AFTER = r"(?! (?:more|less|faster|slower|quicker|higher|lower|too|off|quicker|up on|down on))"

SLOWEST = (
    r"(?:apex|slowest(?: point| part)?|lowest(?: speed)?|middle(?! of the (?:straight|track|road|pack))|minimum|"
    r"mid corner|centre|center|bottom)"
)
_BEND = r"(?:corner|turn|bend|hairpin|chicane|kink)"
ASIDE = re.compile(
    r" (?:if|unless|could|would|should|might|may|used to|yesterday|tomorrow|wet|rain|raining|damp|cold tyres|"
    r"instead of|rather than|try|next time|last (?:lap|time|year|month|week|session)|first lap|out lap|ideally|"
    r"other lap|students?|costs?|others?|too [a-z]+|wrong|mistake|possible|target|"
    rf"(?:{G}|next|previous|earlier|old|best|quickest|fastest|your) lap|(?:old|worn|new|fresh) (?:tyres|tires)|"
    rf"(?:next|previous|last|following) (?:{NUM}|{_BEND})|(?:{NUM}|{_BEND}) (?:before|after) (?:this|that|it|the)|"
    r"(?:after|once)(?: you| we)?(?: are| have)? turn(?:ed|ing)? in|wind|pits?|limit|record|personal best|"
    r"people|drivers?|beginners?|most of (?:us|them|you)|they|their|qualifying|race|racing) "
)
"""Words after which a sentence may speak of something other than this lap, or compare, or advise."""
NEGATION = re.compile(
    r" (?:not|don't|never|no|isn't|aren't|doesn't|won't|cannot|can't|without|nor|avoid)(?: \S+){0,3} $"
)

ONE_OF_SEVERAL = re.compile(rf" (?:or|(?<!from ){NUM}(?: [a-z/%]+)?(?: [a-z]+)? to) $")
"""Before a value: “two or three”, “sixty to seventy”."""
ONE_MORE = re.compile(rf" (?:or|to)(?: (?:the|maybe|even|perhaps|about|at|a))* {NUM} ")
"""Behind a value."""

BRAKE_WORD = r"(?:brakes?|braking|braked)"
THROTTLE_WORD = r"(?:throttle|power|gas|accelerator)"
_WIDE_OPEN = r"(?:fully open|fully on|wide open|all the way open|all the way down|to the floor|floored|pinned|full)"
SUBJECTS: tuple[tuple[str, str], ...] = (
    ("during", rf"{BRAKE_WORD}(?: is| are)? still"),
    ("during", rf"(?:still|keep|keeping|stay|hold)(?: [a-z]+){{0,3}} {BRAKE_WORD}"),
    ("during", rf"(?:brush|dab|touch|kiss|stroke)[a-z]*(?: (?:of|at|on|the|your)){{0,2}} {BRAKE_WORD}"),
    ("release", rf"(?:finish|stop|end|complete)[a-z]*(?: [a-z]+){{0,2}} {BRAKE_WORD}|done|finished"),
    ("release", r"off the brakes?|off the pedal|releas\w+|come off|let go|trail\w*"),
    ("turn", r"(?:before|after|until|till|to|as|when|once|while)(?: you| we| the)? turn(?:ing)? in"),
    ("turn_in", r"(?:turn|turns|turning|turned) in(?: point| marker)?(?! (?:kerb|curb|cone|board|zone|side|bump)s?\b)"),
    ("turn", r"turn|turning|steer|turned"),
    ("gear", rf"down to {G}|gears?|shift|change|downshift"),
    ("lift", r"lift|lifting"),
    ("slowest", r"slowest(?: point)?|minimum(?: speed)?"),
    ("full", rf"full(?: on)?(?: the)? {THROTTLE_WORD}|{THROTTLE_WORD} (?:is |gets? )?{_WIDE_OPEN}"),
    ("full", rf"{_WIDE_OPEN}|flat|foot down"),
    ("brake", rf"{BRAKE_WORD}|anchors"),
    ("more", rf"(?:more|less|half|some|ease|close|off)(?: of)?(?: the)? {THROTTLE_WORD}"),
    ("pickup", THROTTLE_WORD),
)
"""Who or what is at a place; the nearest one before the place counts, of equally near ones the first."""
NOT_PEAK = re.compile(
    r" (?:trail\w*|eas\w+|releas\w+|bleed\w*|still|left|turn in|turning|keep|down to|back to|end|fading|fade|apex|"
    r"first|initial\w*|then) "
)
"""Words that make a brake percentage one of another moment than the peak."""

PLAIN_AFTER_GEAR = (
    r"(?= (?:$|,|:|gear|and|at|for|through|before|by|all|with|here|the|then|over|from|on|as|if|is|early|late|while|"
    r"when|until|again|now|straight|up|near|no|not|wait|just|good|round|around|so|but|to|instead|after|past) ?)"
)
"""What may follow a bare ordinal that is a gear: not “second apex”."""
