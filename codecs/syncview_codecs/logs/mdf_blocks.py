"""The chains of an ASAM MDF 4 file, checked before the library follows them.

Blocks are `##XX`, four reserved bytes, length and link count (each 8 bytes, little endian), then the links (ASAM MDF
4.1, “General block structure”). Lists are chained by their first link, channels hold others, conversions refer to
conversions; where these lead back into themselves they would be followed for ever.
"""

from __future__ import annotations

import os
import struct
from typing import IO

_HEAD = struct.Struct("<4s4xQQ")
_CHAINED = (b"##DG", b"##CG", b"##FH", b"##CH", b"##AT", b"##EV", b"##DL", b"##LD", b"##CA")
"""Blocks whose first link is the next of their list (of an array: what it is made of)."""
_WORDS = (b"##TX", b"##MD")
_LINKS: dict[bytes, tuple[tuple[bytes, ...], ...]] = {
    b"##HD": ((b"##DG",), (b"##FH",), (b"##CH",), (b"##AT",), (b"##EV",), _WORDS),
    b"##DG": ((b"##DG",), (b"##CG",), (), _WORDS),
    b"##CG": ((b"##CG",), (b"##CN",), _WORDS, (b"##SI",), (b"##SR",), _WORDS),
    b"##CN": ((b"##CN",), (b"##CN", b"##CA"), _WORDS, (b"##SI",), (b"##CC",), (), _WORDS, _WORDS),
    b"##CC": (_WORDS, _WORDS, _WORDS, (b"##CC",)),
    b"##FH": ((b"##FH",), _WORDS),
    b"##AT": ((b"##AT",), _WORDS, _WORDS, _WORDS),
    b"##EV": ((b"##EV",),),
    b"##CH": ((b"##CH",),),
    b"##SI": (_WORDS, _WORDS, _WORDS),
    b"##DL": ((b"##DL",),),
    b"##LD": ((b"##LD",),),
    b"##HL": ((b"##DL", b"##LD"),),
}
"""Kinds that each block's first links may lead to (empty: any), so that no block is taken for another kind."""
FIRST_BLOCK = 64
MOST_LINKS = 1 << 20


def fault_in_chains(stream: IO[bytes]) -> str | None:
    """What is wrong with the links of an MDF 4 file, as words, or None; reads each reachable block's links once."""
    size = stream.seek(0, os.SEEK_END)
    following: dict[int, tuple[int, ...]] = {}
    seen: set[int] = set()
    kinds: dict[int, bytes] = {}
    waiting: list[tuple[int, tuple[bytes, ...]]] = [(FIRST_BLOCK, (b"##HD",))]
    while waiting:
        at, wanted = waiting.pop()
        if at in seen:
            if wanted and kinds[at] not in wanted:
                return _of_other_kind(at, kinds[at])
            continue
        seen.add(at)
        stream.seek(min(at, size))
        head = stream.read(_HEAD.size)
        if len(head) < _HEAD.size or not head.startswith(b"##"):
            return f"there is no block at byte {at}, where one is announced"
        kind, length, count = _HEAD.unpack(head)
        kinds[at] = kind
        expected = _LINKS.get(kind, ())
        if wanted and kind not in wanted:
            return _of_other_kind(at, kind)
        if at + length > size:
            return f"the block at byte {at} is longer than the file"
        if count < len(expected) or count > MOST_LINKS or _HEAD.size + 8 * count > min(length, size - at):
            return f"the block at byte {at} claims {count} links"
        links = struct.unpack(f"<{count}Q", stream.read(8 * count))
        following[at] = _followed(kind, links)
        waiting.extend((link, expected[i] if i < len(expected) else ()) for i, link in enumerate(links) if link)
    return _circle(following)


def _of_other_kind(at: int, kind: bytes) -> str:
    return f"the block at byte {at} is of another kind ({kind[2:].decode('latin-1')}) than its place in the file says"


def _followed(kind: bytes, links: tuple[int, ...]) -> tuple[int, ...]:
    """Links that a reader goes along again and again, by block (ASAM MDF 4.1, sections of the blocks)."""
    if kind in _CHAINED:
        return links[:1]
    if kind == b"##CN":  # next, composition
        return links[:2]
    return links[4:] if kind == b"##CC" else ()  # behind name, unit, comment and inverse: what a conversion refers to


def _circle(following: dict[int, tuple[int, ...]]) -> str | None:
    """Where the links lead back into themselves, as words, or None."""
    done: set[int] = set()
    for start in following:
        way: list[tuple[int, int]] = [(start, 0)]
        on_way = {start}
        while way:
            at, taken = way.pop()
            links = following.get(at, ())
            if at in done or taken == len(links):
                done.add(at)
                on_way.discard(at)
                continue
            way.append((at, taken + 1))
            target = links[taken]
            if target in on_way:
                return f"the list at byte {target} leads back into itself"
            if target in following and target not in done:
                on_way.add(target)
                way.append((target, 0))
    return None
