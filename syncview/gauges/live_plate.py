"""A plate whose figures change: only what changed is painted anew, then the plate is laid over the frame at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.gauges.sprites import make_sprite

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from syncview.gauges.colour import ColourCoding
    from syncview.gauges.sheet import Box, Sheet
    from syncview.gauges.sprites import Sprite
    from syncview.media.planes import PlaneLayout


_MOST_PATCHES = 400
"""Kept at once, some 20 MB at 1080 rows; past that they are drawn anew. A lap's film needs fewer."""


class LivePlate:
    """The plate's lasting drawing, and on it slots that show one state at a time.

    A state's patch is drawn on first use and kept; slots must not overlap.
    """

    def __init__(self, sheet: Sheet, *, coding: ColourCoding, layout: PlaneLayout) -> None:
        self._sheet = sheet
        self._coding = coding
        self._layout = layout
        self._bare = make_sprite(sheet.rgba(), coding=coding, layout=layout)
        self.sprite: Sprite = self._bare.copy()
        """What to lay over the frame."""
        self._shown: dict[str, tuple[Hashable, Box]] = {}
        self._patches: dict[tuple[str, Hashable], Sprite] = {}

    def show(self, slot: str, state: Hashable, box: Box, paint: Callable[[Sheet], None] | None) -> None:
        """Show `state` of the slot, drawn by `paint` on the bare plate inside `box`; None leaves it bare."""
        before = self._shown.get(slot)
        if before is not None and before[0] == state:
            return
        if before is not None and (paint is None or before[1] != box):
            self._bare_again(before[1])
        self._shown[slot] = (state, box)
        if paint is not None:
            self.sprite.paste(self._patch(slot, state, box, paint), box.left, box.top)

    def show_columns(self, slot: str, span: tuple[int, int], box: Box, paint: Callable[[Sheet], None]) -> None:
        """Show columns `span` (begin, end, counted from the box's left) of one drawing; the rest stays bare."""
        before = self._shown.get(slot)
        if before is not None and before[0] == span:
            return
        self._bare_again(box)
        self._shown[slot] = (span, box)
        self.sprite.paste_columns(self._patch(slot, "full", box, paint), box.left, box.top, *span)

    def _bare_again(self, box: Box) -> None:
        self.sprite.paste_box(self._bare, (box.left, box.top, box.right, box.bottom))

    def _patch(self, slot: str, state: Hashable, box: Box, paint: Callable[[Sheet], None]) -> Sprite:
        key = (slot, state)
        if key not in self._patches:
            if len(self._patches) >= _MOST_PATCHES:
                self._patches.clear()
            part = self._sheet.part(box)
            paint(part)
            self._patches[key] = make_sprite(part.rgba(), coding=self._coding, layout=self._layout)
        return self._patches[key]
