"""The chains of an ASAM MDF 4 file, checked before the library follows them.

Blocks are `##XX`, four reserved bytes, length and link count (each 8 bytes, little endian), then the links (ASAM MDF
4.1, “General block structure”). Lists are chained by their first link; a chain that leads back into itself would be
followed for ever.
"""

from __future__ import annotations

import os
import struct
from typing import IO

_HEAD = struct.Struct("<4s4xQQ")
_CHAINED = (b"##DG", b"##CG", b"##CN", b"##FH", b"##CH", b"##AT", b"##EV", b"##DL", b"##LD")
"""Blocks whose first link is the next of their list."""
FIRST_BLOCK = 64
MOST_LINKS = 1 << 20


def fault_in_chains(stream: IO[bytes]) -> str | None:
    """What is wrong with the links of an MDF 4 file, as words, or None; reads each reachable block's links once."""
    size = stream.seek(0, os.SEEK_END)
    following: dict[int, int] = {}
    seen: set[int] = set()
    waiting = [FIRST_BLOCK]
    while waiting:
        at = waiting.pop()
        if at in seen:
            continue
        seen.add(at)
        stream.seek(at)
        head = stream.read(_HEAD.size)
        if len(head) < _HEAD.size or not head.startswith(b"##"):
            return f"there is no block at byte {at}, where one is announced"
        kind, length, count = _HEAD.unpack(head)
        if at + length > size and kind not in (b"##DT", b"##DV", b"##SD"):
            return f"the block at byte {at} is longer than the file"
        if count > MOST_LINKS or _HEAD.size + 8 * count > length:
            return f"the block at byte {at} claims {count} links"
        links = struct.unpack(f"<{count}Q", stream.read(8 * count))
        if kind in _CHAINED and links and links[0]:
            following[at] = links[0]
        waiting.extend(link for link in links if link)
    return _circle(following)


def _circle(following: dict[int, int]) -> str | None:
    ended: set[int] = set()
    for start in following:
        at, way = start, set()
        while at in following and at not in ended:
            if at in way:
                return f"the list at byte {at} leads back into itself"
            way.add(at)
            at = following[at]
        ended |= way
    return None
