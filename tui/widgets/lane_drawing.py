"""Draws one line of the lane as a strip: label, beads, count. It keeps nothing and knows no screen."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip

from tui.beads import UNLIT, bead, beads_of, brightest
from tui.plain import ELLIPSIS, cut, shown

if TYPE_CHECKING:
    from patterns.plain import Bytes, Ints

OFF = "-"
"""A dark node on a port that does not show the pattern."""
POINTER = "▾"
TICK_CELLS = 10
"""A tick every 10 cells, or every 5 where that is still a round number of nodes."""
BROAD, PLAIN = 100, 60
MARK_CELLS = 3
"""At the right edge: a space, the mark of what arrives, a space."""
SIDES = {BROAD: (36, 10), PLAIN: (24, 9), 0: (11, 7)}
"""Cells left (at most) and right of the beads, from a width on."""
LABEL_GAP = "  "
LABEL_LEAST = 5
"""A label is shown from so many cells on: a word's beginning and the sign that there is more."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """Where a line's three parts are, and which nodes they show."""

    left: int
    field: int
    right: int
    per_cell: int
    """Nodes a cell."""
    first: int
    """The node at the left edge, from 0."""

    @classmethod
    def fit(cls, width: int, label: int, longest: int, *, is_zoomed: bool, focus: int) -> "Geometry":
        """Return what fits the width, the longest label and string; zoomed in, the page of node `focus`."""
        most, right = next(sides for least, sides in SIDES.items() if width >= least)
        left = min(most, label)
        field = max(1, width - left - right)
        if is_zoomed:
            return cls(left, field, right, 1, focus // field * field)
        return cls(left, field, right, max(1, -(-longest // field)), 0)

    def node_at(self, x: int) -> int:
        """Return the node at a column, from 0; negative left of the beads."""
        return self.first + (x - self.left) * self.per_cell

    def cell_of(self, node: int) -> int:
        """Return the cell of a node, counted from the first bead."""
        return (node - self.first) // self.per_cell


def ruler(geometry: Geometry, focus: int, quiet: Style, accent: Style) -> Strip:
    """Return the ruler over the beads: node numbers, and a pointer over the node looked at."""
    cells = [" "] * geometry.field
    per_tick = geometry.per_cell * (TICK_CELLS if geometry.per_cell % 2 else TICK_CELLS // 2)
    first_tick = -(-(geometry.first + 1) // per_tick) * per_tick
    end = 0
    for number in (1, *range(first_tick, geometry.first + geometry.field * geometry.per_cell + 1, per_tick)):
        at = geometry.cell_of(number - 1)
        text = f"╷{number}"
        # Of a number under the pointer a part would be left, and read as another number.
        is_clear = not at <= geometry.cell_of(focus) < at + len(text)
        if at >= end and at + len(text) <= geometry.field and is_clear:
            cells[at : at + len(text)] = text
            end = at + len(text) + 1
    note = f" dot = {geometry.per_cell} node" + ("s" if geometry.per_cell > 1 else "")
    head = Segment(
        cut(note if len(note) < geometry.left else f" dot = {geometry.per_cell}", geometry.left), quiet
    )
    tail = f"{'nodes':>{geometry.right - MARK_CELLS}}{' ' * MARK_CELLS}"
    at = geometry.cell_of(focus)
    if not 0 <= at < geometry.field:
        return Strip([head, Segment("".join(cells), quiet), Segment(tail, quiet)])
    before, after = "".join(cells[:at]), "".join(cells[at + 1 :])
    return Strip([head, Segment(before, quiet), Segment(POINTER, accent), Segment(after + tail, quiet)])


def bead_segments(
    nodes: "Bytes", geometry: Geometry, gain: float, unlit: tuple[str, Style], focus: int | None
) -> list[Segment]:
    """Return the beads of a string, neighbours alike merged; exactly as many cells as the field has."""
    seen = nodes[geometry.first : geometry.first + geometry.field * geometry.per_cell]
    packed = beads_of(brightest(seen, geometry.per_cell), gain)
    segments = [_segment(int(value), count, unlit) for value, count in _runs(packed)]
    if focus is not None and 0 <= (at := geometry.cell_of(focus)) < len(packed):
        segments = _underlined(segments, at)
    return [*segments, Segment(" " * (geometry.field - len(packed)))]


def _segment(packed: int, count: int, unlit: tuple[str, Style]) -> Segment:
    character, style = bead(packed)
    return Segment(unlit[0] * count, unlit[1]) if character == UNLIT else Segment(character * count, style)


def _runs(packed: "Ints") -> list[tuple[int, int]]:
    import numpy as np

    if not len(packed):
        return []
    starts = np.concatenate([[0], np.flatnonzero(np.diff(packed)) + 1])
    counts = np.diff(np.concatenate([starts, [len(packed)]]))
    return list(zip(packed[starts].tolist(), counts.tolist(), strict=True))


def _underlined(segments: list[Segment], at: int) -> list[Segment]:
    before, there, after = Segment.divide(segments, [at, at + 1, sum(len(each.text) for each in segments)])
    marked = [Segment(each.text, (each.style or Style.null()) + Style(underline=True)) for each in there]
    return [*before, *marked, *after]


def name_text(name: str, label: str, cells: int) -> str:
    """Return a port's name and what there is room for of its label; of a long name both ends."""
    text, stem = shown(name), 0
    if len(text) > cells:
        number = text[text.rfind("/") :] if "/" in text else ""
        stem = max(0, cells - len(number) - len(ELLIPSIS))
        return cut(f"{text[:stem]}{ELLIPSIS}{number}", cells)
    has_room = label and cells - len(text) - len(LABEL_GAP) >= min(len(label), LABEL_LEAST)
    return cut(f"{text}{LABEL_GAP}{label}" if has_room else text, cells)
