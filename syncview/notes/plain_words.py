"""The words of a plain instruction: in a sentence made of them alone, a claim is about this corner, this car, this lap.

“Eighty at the apex and you are in the gravel”, “my mate brakes at the fifty” and “imagine a wall at the hundred board”
hold the words of a claim and do not claim it. No list of such phrases ends; so a claim is called wrong only where
every word of its sentence is one of these (or a name from the circuit file). Common usage, no source.
"""

from __future__ import annotations

from syncview.notes.claim_patterns import GEARS

_GRAMMAR = """
    a about above after again all almost already also an and any are around as at away back be because been before
    behind below between beyond both but by do does doing don't down during each either else enough even every
    exactly few for from get gets getting give gives go goes going got had has have having here hits how i in inside
    into is isn't it it's its itself just keep keeps kept let lets little lot make makes many me more most much must
    my near nearly need needed needs neither never next no nor not nothing now of off on once one only onto or our
    out outside over past per please put quite rather really right roughly same see shall simply slightly so some
    somewhat somewhere soon still such take taken takes than that that's the their them then there there's these
    they thing things think this those through till times to together too toward towards under until up upon us use
    used uses using very want wants was way we we're well were what when where which while who whole will with
    within without yes yet you you'll you're you've your yours
"""
_DRIVING = """
    accelerate accelerates acceleration accelerator anchors apex apexes arrive arrives arriving bang bar barely bend
    bleed board boards bottom brake braked brakes braking breathe bridge brief bring brings brush calm calmly car
    carries carry carrying center centre change changed changes chicane clean click clip clock close come comes
    coming commit completely corner corners correction corrections crest curb curbs dab data deep deeper definitely
    degree degrees direction distance done downhill downshift downshifts drive drives driving drop drops earlier
    early ease eases easily easy edge end ends enter enters entry exit exiting exits fast faster feed feel feels
    feet find finish firm firmly first flat floor follow follows foot full fully gas gear gears gentle gently good
    grab great grip ground hairpin half hand hands hard harder head heavy hit hold holding holds hour huge hurry
    immediately initial initially kerb kerbs kilometer kilometers kilometre kilometres kink km/h kmh kph lap late
    later latest leave leaves left leg length lengths level lift lifted lifting lifts light lightly line linear long
    low lower lowest m m/s main mark marker markers max maximum maybe meter meters metre metres mid middle mile
    miles min minimum minute minutes moment more mph nice nose nothing onset open opened opening opens order panel
    patience patient peak peaks pedal percent percentage pick picks place plenty point points power press pressed
    presses pressure progressive progressively psi pull pulls push quarter quarters quick quicker quickly rate reach
    reaches release released releases road roll rolls rotate rotates rotation round run running runs second seconds
    select shift shifts short shortly show shows side sign slow slower slowest slowing slowly slows small smooth
    smoothly snatch speed speeds squeeze squeezes stab stamp stand start started starts stay stays steady steer
    steering step stop straight straighten straightens strong strongly sweep swing third thirds throttle throughout
    tight tighter time tiny top tops total totally touch track trail trailing turn turned turning turns twice unwind
    unwinding unwinds wait waits wheel wide wider yard yards zero zone
"""
PLAIN_WORDS = frozenset((_GRAMMAR + _DRIVING).split()) | frozenset(GEARS)


_WHAT_FOLLOWS = " and you "
"""“Full throttle before the apex and you need more road”: what would follow is told, not what is done."""


def strange_words(said: str) -> tuple[str, ...]:
    """The words of a sentence, made regular by `spoken`, that no plain instruction needs."""
    words = [word for word in said.split() if word[0].isalpha() and word not in PLAIN_WORDS]
    return tuple(words + [_WHAT_FOLLOWS.strip()] * (_WHAT_FOLLOWS in said))
