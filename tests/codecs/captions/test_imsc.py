"""Source: W3C IMSC 1.1 and TTML2; documents are read back by ttconv."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
import ttconv.imsc.reader as imsc_reader
import ttconv.model as model
from hypothesis import given
from hypothesis import strategies as st

from syncview_codecs.captions.cue import Cue
from syncview_codecs.captions.imsc import Region, write
from syncview_codecs.captions.plain_text import text_lines
from syncview_codecs.errors import CodecError

AWKWARD = [
    Cue(1000, 2500, "Brake later\nturn in"),
    Cue(2500, 4001, "a --> b & <b>c</b> \"d\" 'e'"),
    Cue(4001, 3_723_456, "בלום עכשיו 🏁\n\n\nwait"),
]


def read_back(text: str) -> list[tuple[int, int, list[str]]]:
    """Times in ms and lines, as ttconv sees them."""
    document = imsc_reader.to_model(ET.ElementTree(ET.fromstring(text)))
    assert document is not None
    body = document.get_body()
    assert body is not None
    found = []
    for element in body.dfs_iterator():
        if isinstance(element, model.P):
            lines = [""]
            for part in element.dfs_iterator():
                if isinstance(part, model.Br):
                    lines.append("")
                elif isinstance(part, model.Text):
                    lines[-1] += part.get_text()
            begin, end = element.get_begin() or Fraction(0), element.get_end()
            assert end is not None
            assert (Fraction(begin) * 1000).denominator == 1
            found.append((int(begin * 1000), int(end * 1000), lines))
    return found


def test_words_and_times_come_back() -> None:
    text = write(AWKWARD, language="en")
    assert read_back(text) == [(cue.start_ms, cue.end_ms, text_lines(cue.text)) for cue in AWKWARD]
    root = ET.fromstring(text)
    assert root.get("{http://www.w3.org/ns/ttml#parameter}contentProfiles") == (
        "http://www.w3.org/ns/ttml/profile/imsc1.1/text"
    )
    assert root.get("{http://www.w3.org/XML/1998/namespace}lang") == "en"


@given(
    st.lists(
        st.builds(
            lambda start, length, text: Cue(start, start + length, text),
            st.integers(0, 10**7),
            st.integers(1, 10**5),
            st.text(min_size=1, max_size=60).filter(
                lambda text: any(sign.isprintable() and not sign.isspace() for sign in text)
            ),
        ),
        max_size=5,
    )
)
def test_any_text_comes_back(cues: list[Cue]) -> None:
    found = read_back(write(cues))
    ordered = sorted(cues, key=lambda cue: cue.start_ms)
    assert [(begin, end) for begin, end, _ in found] == [(cue.start_ms, cue.end_ms) for cue in ordered]
    for (_, _, lines), cue in zip(found, ordered, strict=True):
        kept = [
            sign for line in text_lines(cue.text) for sign in line if not sign.isspace() and sign not in "\ufffe\uffff"
        ]
        assert [sign for line in lines for sign in line if not sign.isspace()] == kept


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(CodecError, match="no text"):
        write([Cue(0, 1, " \n ")])
    with pytest.raises(CodecError, match="language"):
        write([], language="en us")
    with pytest.raises(CodecError, match="cannot stand"):
        Region(left=50, width=60)
