"""IMSC 1.1 text (``.ttml``). Source: W3C, "TTML Profiles for Internet Media Subtitles and Captions 1.1"."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from dataclasses import dataclass

from syncview_codecs.captions.cue import Cue
from syncview_codecs.captions.plain_text import format_clock, text_lines
from syncview_codecs.errors import CodecError

MIME = "application/ttml+xml"
_TT = "http://www.w3.org/ns/ttml"
_STYLING, _PARAMETER = f"{_TT}#styling", f"{_TT}#parameter"
_PROFILE = f"{_TT}/profile/imsc1.1/text"
_XML = "http://www.w3.org/XML/1998/namespace"
_LANGUAGE = re.compile(r"[A-Za-z]{2,8}(-[A-Za-z0-9]{1,8})*|")
"""A language tag in outline (BCP 47); empty for an unknown language, as XML 1.0 (2.12) allows."""
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What XML 1.0 (2.2) has no place for."""


@dataclass(frozen=True, slots=True)
class Region:
    """Where captions stand, in per cent of the picture; inside it, as the profile asks."""

    left: float = 10.0
    top: float = 75.0
    width: float = 80.0
    height: float = 20.0

    def __post_init__(self) -> None:
        inside = self.left + self.width <= 100 and self.top + self.height <= 100
        if not inside or min(self.left, self.top) < 0 or min(self.width, self.height) <= 0:
            raise CodecError(f"captions cannot stand at {self}", "Give a region inside the picture, in per cent.")


USUAL_REGION = Region()


def write(cues: Iterable[Cue], *, language: str = "", region: Region = USUAL_REGION) -> str:
    """The cues as an IMSC 1.1 text document, sorted by start, all in one region at the bottom of it.

    Every word is kept; blank lines and characters that XML cannot hold are dropped. Cues that overlap are shown
    together, the earlier one above.

    Raises:
        CodecError: A cue has no text, the language is no tag, or the region does not lie in the picture.
    """
    if not _LANGUAGE.fullmatch(language):
        raise CodecError(f"“{language}” is no language tag", "Give one such as en or de-AT.")
    for prefix, space in (("", _TT), ("tts", _STYLING), ("ttp", _PARAMETER)):
        ET.register_namespace(prefix, space)
    root = ET.Element(
        f"{{{_TT}}}tt",
        {
            f"{{{_XML}}}lang": language,
            f"{{{_PARAMETER}}}timeBase": "media",
            f"{{{_PARAMETER}}}contentProfiles": _PROFILE,
        },
    )
    layout = ET.SubElement(ET.SubElement(root, f"{{{_TT}}}head"), f"{{{_TT}}}layout")
    ET.SubElement(
        layout,
        f"{{{_TT}}}region",
        {
            f"{{{_XML}}}id": "captions",
            f"{{{_STYLING}}}origin": f"{region.left:g}% {region.top:g}%",
            f"{{{_STYLING}}}extent": f"{region.width:g}% {region.height:g}%",
            f"{{{_STYLING}}}displayAlign": "after",
            f"{{{_STYLING}}}textAlign": "start",
        },
    )
    body = ET.SubElement(root, f"{{{_TT}}}body", {"region": "captions"})
    division = ET.SubElement(body, f"{{{_TT}}}div")
    for cue in sorted(cues, key=lambda cue: cue.start_ms):
        _add(division, cue)
    ET.indent(root)
    _join_lines(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _add(division: ET.Element, cue: Cue) -> None:
    lines = [line for line in (_NO_XML.sub("", line).strip() for line in text_lines(cue.text)) if line]
    if not lines:
        raise CodecError(f"the cue at {cue.start_ms} ms has no text", "Give it a text or leave it out.")
    begin, end = (format_clock(time_ms, decimal_mark=".") for time_ms in (cue.start_ms, cue.end_ms))
    paragraph = ET.SubElement(division, f"{{{_TT}}}p", {"begin": begin, "end": end})
    paragraph.text = lines[0]
    for line in lines[1:]:
        ET.SubElement(paragraph, f"{{{_TT}}}br").tail = line


def _join_lines(root: ET.Element) -> None:
    """Take the indentation out of captions again: blank space in a paragraph is text."""
    for paragraph in root.iter(f"{{{_TT}}}p"):
        breaks = list(paragraph)
        paragraph.text = (paragraph.text or "").strip()
        for element in breaks:
            element.tail = (element.tail or "").strip()
