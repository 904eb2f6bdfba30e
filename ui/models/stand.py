"""Where a person stands in a piece: at the whole of it, or inside one part, perhaps among unpacked bytes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ui import text
from ui.models.lines import Line, find, lines_of
from ui.models.stretches import Stretch, stretches_of
from ui.models.ways import Way, extent, layer_way, part_at

if TYPE_CHECKING:
    from datetime import date

    from catalogue.shapes.piece import PieceDetail

MOST_DEEP = 64


@dataclass(frozen=True, slots=True)
class Stand:
    """`start` and `end` bound the bytes seen from here. `layer` is the way to where they were unpacked, () for none.

    `data` are the unpacked bytes that offsets count in; None where they are the piece's own.
    """

    way: Way
    layer: Way
    start: int
    end: int
    data: bytes | None
    lines: list[Line]
    stretches: list[Stretch]
    titles: tuple[str, ...]

    @property
    def unpacked(self) -> bool:
        """Whether the bytes seen from here stand nowhere in the piece itself."""
        return bool(self.layer)


def stand_at(detail: PieceDetail, way: Way, data: bytes | None, today: date | None = None) -> Stand:
    """The stand inside the part at `way`; `data` are the unpacked bytes its offsets count in, None for the piece's own.

    Where unpacked bytes hold one part, all of them are seen, whatever stretch of them the part claims.
    """
    whole = detail.reading
    layer = layer_way(whole, way)
    size = detail.info.size if data is None else len(data)
    if way == layer and (not way or len(part_at(whole, way[:-1]).parts) == 1):
        start, end = 0, size
    else:
        start, end = extent(part_at(whole, way))
        start, end = min(start, size), min(end, size)
    return Stand(
        way,
        layer,
        start,
        end,
        data,
        lines_of(detail, way, start, end, today),
        stretches_of(part_at(whole, way), start, end, way),
        tuple(text.plain(part_at(whole, way[:depth]).title, 120) for depth in range(len(way) + 1)),
    )


def stand_on(detail: PieceDetail, at: int, today: date | None = None) -> Stand:
    """The stand in the piece's own bytes from which byte `at` is a field's, as deep as the parts reach."""
    stand = stand_at(detail, (), None, today)
    for _ in range(MOST_DEEP):
        row = find(stand.lines, at)
        way = stand.lines[row].way if row >= 0 and stand.lines[row].kind == "part" else None
        if way is None:
            break
        stand = stand_at(detail, way, None, today)
    return stand
