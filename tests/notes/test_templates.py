"""The coach's own wording: a small language that cannot run on, grow, or reach outside; faults by line and remedy."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.notes.draft_values import FILTERS, VALUES, draft_filters, draft_values
from syncview.notes.drafts import draft_note, fitting_draft
from syncview.notes.templates import (
    DEFAULT_FILE,
    LONGEST_TEMPLATE,
    TemplateError,
    checked_template,
    default_template,
    render,
    tidy,
)
from syncview.track.corner_facts import CornerFacts
from tests.notes.said_of import HAIRPIN, HAIRPIN_FACTS, KINK, KINK_FACTS, NOTHING


def drafted(template: str, facts: CornerFacts = HAIRPIN_FACTS) -> str:
    return draft_note(facts, HAIRPIN, units="metric", template=template)


def test_a_coachs_own_words() -> None:
    text = "{% if gear_down_to %}Gear {{ gear_down_to }}{% endif %}, {{ slowest_speed | speed }} {# mine #} then go"
    assert drafted(text) == "Gear 2, 64 km/h then go."


def test_numbers_are_whole_unless_rounded() -> None:
    # 64.1 km/h = 39.83 mph (NIST SP 811 B.8: 1 mile/h = 0.44704 m/s).
    assert drafted("{{ slowest_speed }} {{ slowest_speed | round(1) }}") == "64 64.1."
    assert draft_note(HAIRPIN_FACTS, HAIRPIN, units="imperial", template="{{ slowest_speed | round(2) }}") == "39.83."
    assert drafted("{{ brake_speed - slowest_speed }} slower") == "107 slower."


def test_a_measured_zero_is_known() -> None:
    values = draft_values(HAIRPIN_FACTS, HAIRPIN, units="metric") | {"full_after_apex": 0.0}
    text = "{% if full_after_apex %}full {{ full_after_apex | beside_apex }}{% endif %}"
    assert render(text, values, draft_filters(HAIRPIN_FACTS, units="metric")) == "Full at the apex."


def test_an_unknown_value_says_which_why_where_and_what_to_do() -> None:
    with pytest.raises(TemplateError) as caught:
        drafted("Brake\nat {{ brake_speed | speed }}", NOTHING)
    said = str(caught.value)
    assert "line 2" in said
    assert "brake_speed is not known here: not in this log" in said
    assert "{% if brake_speed %}" in said
    assert drafted("at {{ brake_speed | default('full') }} speed", NOTHING) == "At full speed."
    with pytest.raises(TemplateError, match="brake_speed is not known"):
        drafted("{{ brake_speed }}", NOTHING)
    with pytest.raises(TemplateError, match="brake_speed is not known"):
        drafted("{{ brake_speed - 3 }}", NOTHING)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a\n{% for i in range(1000000000) %}x{% endfor %}", 2, "loops"),
        ("{{ range(10) }}", 1, "calls"),
        ("{{ ''.__class__.__mro__ }}", 1, "attributes"),
        ("{{ name['__class__'] }}", 1, "indexes"),
        ("{{ name.upper() }}", 1, "calls"),
        ("{% include '/etc/passwd' %}", 1, "include"),
        ("{% extends 'other' %}", 1, "extends"),
        ("{% import 'os' as os %}", 1, "import"),
        ("{% macro a() %}{{ a() }}{% endmacro %}{{ a() }}", 1, "macros"),
        ("{% set a = 'x' %}{% set b = a ~ a %}", 1, "set"),
        ("{% with %}x{% endwith %}", 1, "with"),
        ("{{ 9 ** 9 ** 9 ** 9 }}", 1, "powers"),
        ("{{ 'x' * 1000000000 }}", 1, "words cannot be reckoned with"),
        ("{{ name * 1000000000 }}", 1, "words cannot be reckoned with"),
        ("{{ '%999999999d' % number }}", 1, "% are not part"),
        ("{{ name ~ name }}", 1, "~ are not part"),
        ("{{ [1, 2] }}", 1, "lists"),
        ("{{ name | center(999999999) }}", 1, "no filter “center”"),
        ("{{ name | attr('__class__') }}", 1, "no filter “attr”"),
        ("one\n\n{{ brak_speed }}", 3, "no value “brak_speed”"),
        ("{{ self }}", 1, "no value “self”"),
        ("{{ _filters }}", 1, "no value “_filters”"),
        ("{% if brake_speed %}\nno end", 1, "unexpected end of template"),
        ("x\n{{ 1 + }}", 2, "expected"),
        ("{{ number is divisibleby(3) }}", 1, "divisibleby"),
        ("{% do 1 %}", 1, "unknown tag"),
        ("   ", 0, "empty"),
        ("x" * (LONGEST_TEMPLATE + 1), 0, "longer than 10000"),
    ],
)  # fmt: skip
def test_what_is_not_of_the_language_is_refused_by_line(text: str, line: int, words: str) -> None:
    begin = time.monotonic()
    with pytest.raises(TemplateError) as caught:
        checked_template(text)
    assert time.monotonic() - begin < 5.0
    assert words in str(caught.value)
    assert caught.value.remedy
    if line:
        assert f"line {line}:" in str(caught.value)


def test_arithmetic_that_fails_is_named() -> None:
    with pytest.raises(TemplateError, match=r"line 1: .*zero"):
        drafted("{{ number / 0 }}")
    with pytest.raises(TemplateError, match="0 to 3 decimals"):
        drafted("{{ slowest_speed | round(400) }}")
    with pytest.raises(TemplateError, match="cannot be worked out"):
        drafted("{{ side | speed }}")


def test_a_draft_that_is_too_long_is_refused() -> None:
    with pytest.raises(TemplateError, match=r"2000 characters is longer than 1000"):
        drafted("word " * 400)


@given(st.text(alphabet="{}%#|.()[]'\"*+-~ \nabnum_er0129iforsetdclu", max_size=60))
def test_any_text_is_taken_or_refused_by_name(text: str) -> None:
    try:
        draft = drafted(text)
    except TemplateError as error:
        assert error.problem  # noqa: PT017 - either outcome is right; a third is not
        return
    assert "\n" not in draft


def test_the_default_is_of_the_language_and_says_how_to_change_it() -> None:
    assert DEFAULT_FILE.is_file()
    assert "notes template PROJECT --show" in checked_template(default_template())


def test_every_value_and_filter_is_described_and_there() -> None:
    for facts in (HAIRPIN_FACTS, KINK_FACTS, NOTHING):
        assert set(draft_values(facts, HAIRPIN, units="metric")) == set(VALUES)
    assert set(draft_filters(NOTHING, units="metric")) < set(FILTERS)


@pytest.mark.parametrize(
    ("rough", "put_in_order"),
    [
        ("brake  84 m , , down to second , .  apex ;", "Brake 84 m, down to second. Apex."),
        (", down to second,", "Down to second."),
        ("full , wheel still turned", "Full, wheel still turned."),
        ("one. . two!  three", "One. Two! Three."),
        ("", ""),
        ("1.9 bar", "1.9 bar."),
    ],
)
def test_left_over_signs_are_put_in_order(rough: str, put_in_order: str) -> None:
    assert tidy(rough) == put_in_order


def test_shorter_variants_are_chosen_and_what_never_fits_is_told() -> None:
    lengths = {}
    for detail in (3, 2, 1):
        lengths[detail] = len(draft_note(HAIRPIN_FACTS, HAIRPIN, units="metric", detail=detail))
    assert lengths[3] > lengths[2] > lengths[1]
    for detail in (3, 2, 1):
        most = lengths[detail]
        draft = fitting_draft(HAIRPIN_FACTS, HAIRPIN, lambda text, most=most: len(text) <= most, units="metric")  # type: ignore[misc]
        assert (draft.detail, draft.fits) == (detail, True)
    assert not fitting_draft(HAIRPIN_FACTS, HAIRPIN, lambda _: False, units="metric").fits
    assert draft_note(KINK_FACTS, KINK, units="metric", detail=1) == "Flat in fifth, 188 km/h."
