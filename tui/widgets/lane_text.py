"""The lines of the lane as segments: controllers, fixtures, and strings with their labels and counts."""

from collections.abc import Callable
from dataclasses import dataclass

from rich.segment import Segment
from rich.style import Style

from tui.beads import UNLIT
from tui.compare import DIFFERS, UNKNOWN
from tui.picture import Choice, Picture
from tui.plain import cut, shown
from tui.rows import FixtureRow, Kind, Line, StringRow
from tui.widgets.lane_drawing import OFF, Geometry, bead_segments, name_text

SWITCH_CELLS = 3
"""The cursor, the switch and a space."""
ON_SIGN, OFF_SIGN, CURSOR = "●", "○", "▸"
ARRIVES = "└ arrives"
BLIND = "lights not drawn, b draws them"


@dataclass(frozen=True, slots=True)
class LaneText:
    """Draws single lines. `style` gives the theme's style of a name."""

    picture: Picture
    choice: Choice
    geometry: Geometry
    is_blind: bool
    style: Callable[[str], Style]

    def draw(self, line: Line) -> list[Segment]:
        """Return the segments of a line."""
        match line.kind:
            case Kind.CONTROLLER:
                return self._controller(line.index)
            case Kind.FIXTURE:
                return self._fixture(self.picture.fixtures[line.index])
            case Kind.GAP:
                return []
            case _:
                row = self.picture.strings[line.index]
                return [*self._label(line, row), *self._beads(line, row), self._count(line, row)]

    def _controller(self, index: int) -> list[Segment]:
        from streamer.display.numbering import PROTOCOL_NAME

        controller = self.picture.controllers[index]
        name, address = shown(controller.name), shown(controller.address)
        return [Segment(f" {name}  {PROTOCOL_NAME[controller.protocol]} to {address}", self.style("head"))]

    def _fixture(self, row: FixtureRow) -> list[Segment]:
        geometry, sent, roles = self.geometry, self.picture.sent, row.fixture.channels
        values = sent.channels[row.start : row.start + len(roles)].tolist() if sent else [0] * len(roles)
        shares = [(role, value) for role, value in zip(roles, values, strict=True) if value]
        text = "  ".join(f"{role} {value}" for role, value in zip(roles, values, strict=True))
        if len(text) > geometry.field + geometry.right:
            text = "  ".join(f"{role} {value}" for role, value in shares) or f"all {len(roles)} channels 0"
        name = name_text(row.fixture.name, "", geometry.left - SWITCH_CELLS - 1)
        style = self.style("name" if any(values) else "quiet")
        room = geometry.field + geometry.right
        return [Segment(f"   {name} ", self.style("name")), Segment(cut(text, room), style)]

    def _label(self, line: Line, row: StringRow) -> list[Segment]:
        left = self.geometry.left
        if line.part:
            return [Segment(" " * left)]
        if line.kind is Kind.ARRIVED:
            note = self.choice.notes.get(row.port.name, "")
            style = self.style("differs" if note else "quiet")
            indent = " " * min(SWITCH_CELLS, max(0, left - len(ARRIVES) - 1))
            return [Segment(cut(f"{indent}└ {note or 'arrives'}", left - 1) + " ", style)]
        is_here, is_on = line.index == self.picture.cursor, self.choice.is_on(row)
        signs = f"{CURSOR if is_here else ' '}{ON_SIGN if is_on else OFF_SIGN} "
        name = name_text(row.port.name, row.port.label, left - SWITCH_CELLS - 1)
        return [Segment(f"{signs}{name} ", self.style("cursor" if is_here else "name" if is_on else "quiet"))]

    def _beads(self, line: Line, row: StringRow) -> list[Segment]:
        geometry = self.geometry
        frame = self.picture.sent if line.kind is Kind.SENT else self.picture.arrived
        unlit = (UNLIT if self.choice.is_on(row) else OFF, self.style("unlit"))
        if self.is_blind:
            return [Segment(cut(BLIND, geometry.field), unlit[1])]
        if frame is None:
            cells = -(-max(0, row.port.nodes - geometry.first) // geometry.per_cell)
            return [Segment(cut(unlit[0] * min(cells, geometry.field), geometry.field), unlit[1])]
        focus = self.picture.node if line.index == self.picture.cursor else None
        return bead_segments(frame.nodes[row.start : row.end], geometry, self.choice.gain, unlit, focus)

    def _count(self, line: Line, row: StringRow) -> Segment:
        comparison = self.picture.comparison
        mark = comparison.marks[line.index] if self.picture.arrived is not None else UNKNOWN
        if line.part:
            text = ""
        elif line.kind is Kind.SENT:
            text = f"{row.port.nodes} {mark}"
        else:
            text = f"{comparison.counts[line.index]} {mark}" if mark == DIFFERS else ""
        right = self.geometry.right
        return Segment(
            cut(f"{text.rjust(right - 1)} ", right), self.style("differs" if mark == DIFFERS else "quiet")
        )
