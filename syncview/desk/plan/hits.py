"""What lies under the pointer: the edge of a hold, the top edge of a stretch, a piece, or the plain strip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from syncview.desk.plan.pieces import Piece
from syncview.desk.plan.rows import Rows
from syncview.desk.plan.scale import Scale

REACH_PX = 5.0
"""How far from an edge it can be taken."""

Part = Literal["hold edge", "speed edge", "piece", "ground"]


@dataclass(frozen=True, slots=True)
class Hit:
    """What was hit."""

    part: Part
    piece: int | None = None
    """Its number."""


def hit(pieces: Sequence[Piece], scale: Scale, rows: Rows, x_px: float, y_px: float) -> Hit:
    """What lies at a pixel. Edges that cannot be dragged are not hit."""
    if x_px < scale.left_px or not rows.speeds.top - REACH_PX <= y_px < rows.speeds.bottom:
        return Hit("ground")
    edge = _hold_edge(pieces, scale, x_px) if rows.speeds.holds(y_px) else None
    if edge is not None:
        return Hit("hold edge", edge)
    lesson_s = scale.unbounded_s(x_px)
    for number, piece in enumerate(pieces):
        if not piece.begin_s <= lesson_s < piece.end_s:
            continue
        at_edge = piece.kind == "play" and abs(y_px - rows.speed_y(piece.speed)) <= REACH_PX
        if at_edge and piece.can_be_set:
            return Hit("speed edge", number)
        return Hit("piece", number) if rows.speeds.holds(y_px) else Hit("ground")
    return Hit("ground")


def _hold_edge(pieces: Sequence[Piece], scale: Scale, x_px: float) -> int | None:
    """The hold whose right edge is nearest, within reach."""
    near = [
        (abs(scale.x(float(piece.end_s)) - x_px), number)
        for number, piece in enumerate(pieces)
        if piece.kind == "hold" and piece.can_be_set
    ]
    distance_px, number = min(near, default=(REACH_PX + 1, -1))
    return number if distance_px <= REACH_PX else None
