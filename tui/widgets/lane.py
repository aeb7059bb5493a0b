"""The lane: every string as a row of beads, as it is sent and, with a yard, as it arrives underneath.

One widget with the line API: only lines that changed are drawn again.
"""

from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.events import Click, Resize
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from streamer.display.model import Display
from tui.beads import UNLIT
from tui.compare import DIFFERS, UNKNOWN, Comparison
from tui.plain import cut, shown
from tui.rows import FixtureRow, Kind, Line, StringRow, fixture_rows, string_rows
from tui.widgets.lane_drawing import LABEL_GAP, OFF, Geometry, bead_segments, name_text, ruler

if TYPE_CHECKING:
    from patterns.plain import Bytes, Frame

HEADS_FROM_HEIGHT = 18
SWITCH_CELLS = 3
LABEL_LEAST = 10
ON, OFF_SIGN, CURSOR = "●", "○", "▸"
EVERYWHERE, WHERE_DIFFERENT, NOWHERE = "everywhere", "where it differs", "nowhere"
ARRIVALS = (EVERYWHERE, WHERE_DIFFERENT, NOWHERE)
INVITATION = (
    "",
    "  No display yet.",
    "",
    "  d   choose a display file, or just universes",
    "  ?   every key, and the cautions",
)


class Lane(ScrollView, can_focus=False):
    """The rows of a display. `cursor` is the string looked at, `pinned` the node (from 0) or None to follow the light."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "lane--quiet", "lane--unlit", "lane--name", "lane--cursor", "lane--pointer", "lane--differs", "lane--head",
    }  # fmt: skip

    class Tapped(Message):
        """A string's switch, or its count, was tapped."""

        def __init__(self, port: str, *, is_only: bool) -> None:
            super().__init__()
            self.port, self.is_only = port, is_only

    class Looked(Message):
        """Another string or node is looked at."""

    def __init__(self, **kwargs: str) -> None:
        super().__init__(**kwargs)  # type: ignore[arg-type]
        self.strings: tuple[StringRow, ...] = ()
        self.fixtures: tuple[FixtureRow, ...] = ()
        self._display: Display | None = None
        self._lines: list[Line] = []
        self._sent: Frame | None = None
        self._arrived: Frame | None = None
        self._comparison = Comparison(())
        self._ports_on: frozenset[str] | None = None
        self._gain = 1.0
        self._label_cells = 0
        self.cursor = 0
        self.pinned: int | None = None
        self._lit_node = 0
        self.is_zoomed = False
        self.is_blind = False
        self.arrivals = EVERYWHERE

    @property
    def here(self) -> StringRow | None:
        """The string looked at."""
        return self.strings[self.cursor] if self.strings else None

    @property
    def node(self) -> int:
        """The node looked at, from 0: the pinned one, or the brightest (the first of several)."""
        if self.here is None:
            return 0
        if self.pinned is not None:
            return min(self.pinned, self.here.port.nodes - 1)
        return min(self._lit_node, self.here.port.nodes - 1)

    def _follow(self) -> None:
        """Find the brightest node; in the dark the one before stays."""
        if self._sent is not None and self.here is not None:
            light = self._sent.nodes[self.here.start : self.here.end].max(axis=1)
            if light.any():
                self._lit_node = int(light.argmax())

    @property
    def light(self) -> "tuple[Bytes, float] | None":
        """The four components of the node looked at, as sent, and the gain that brings them to full."""
        return (self._sent.nodes[self.here.start + self.node], self._gain) if self._sent and self.here else None

    def show_display(self, display: Display | None) -> None:
        """Lay out the rows anew, if it is another display."""
        if display is self._display:
            return
        self._display = display
        self.strings = string_rows(display) if display else ()
        self.fixtures = fixture_rows(display) if display else ()
        names = [f"{row.port.name}{LABEL_GAP}{row.port.label}" for row in self.strings] + [r.fixture.name for r in self.fixtures]
        self._label_cells = max([len(name) for name in names] + [LABEL_LEAST]) + SWITCH_CELLS + 1
        self._sent = self._arrived = None
        self._comparison = Comparison(self.strings)
        self.cursor, self.pinned, self._lit_node = 0, None, 0
        self._lay_out()

    def show_choice(self, ports: tuple[str, ...] | None, level_percent: float) -> None:
        """Show which ports are on, and draw lights of this level at the brightness of the screen."""
        chosen = None if ports is None else frozenset(ports)
        gain = 100 / level_percent if level_percent else 1.0
        if (chosen, gain) != (self._ports_on, self._gain):
            self._ports_on, self._gain = chosen, gain
            self.refresh()

    def see(self, sent: "Frame | None", arrived: "Frame | None") -> None:
        """Take in what is sent and what arrives now; draw the lines that differ from before."""
        total = self.strings[-1].end if self.strings else 0
        sent = sent if sent is not None and len(sent.nodes) == total else None
        arrived = arrived if arrived is not None and len(arrived.nodes) == total else None
        had_arrivals, node_before = self._arrived is not None, self.node
        changed = self._changed(self._sent, sent) | self._changed(self._arrived, arrived)
        self._sent, self._arrived = sent, arrived
        self._follow()
        remarked = self._comparison.look(sent.nodes, arrived.nodes) if sent and arrived else []
        if had_arrivals != (arrived is not None) or (remarked and self.arrivals == WHERE_DIFFERENT):
            self._lay_out()
        elif not self.is_blind:
            self._refresh_rows(changed | set(remarked))
        if self.node != node_before:
            self._look()

    def _changed(self, before: "Frame | None", now: "Frame | None") -> set[int]:
        if before is now:
            return set()
        if before is None or now is None:
            return set(range(len(self.strings) + 1))
        rows = {i for i, row in enumerate(self.strings) if (before.nodes[row.start : row.end] != now.nodes[row.start : row.end]).any()}
        return rows if (before.channels == now.channels).all() else rows | {len(self.strings)}

    def _refresh_rows(self, rows: set[int]) -> None:
        top, fixtures = self.scroll_offset.y, len(self.strings) in rows
        for y, line in enumerate(self._lines[top : top + max(0, self.size.height - 1)]):
            is_string = line.kind in {Kind.SENT, Kind.ARRIVED}
            if (is_string and line.index in rows) or (line.kind is Kind.FIXTURE and fixtures):
                self.refresh(Region(0, y + 1, self.size.width, 1))

    def _look(self) -> None:
        self.refresh(Region(0, 0, self.size.width, 1))
        if self.is_zoomed:
            self.refresh()
        self.post_message(self.Looked())

    def move(self, by: int) -> None:
        """Look at the string so many rows further down."""
        if self.strings:
            self.cursor = (self.cursor + by) % len(self.strings)
            self._follow()
            self._keep_in_view()
            self.refresh()
            self.post_message(self.Looked())

    def pin(self, node: int | None) -> None:
        """Look at this node of the string, from 0, or follow the light again."""
        if self.here is not None:
            self.pinned = None if node is None else max(0, min(node, self.here.port.nodes - 1))
            self.refresh()
            self.post_message(self.Looked())

    def toggle_zoom(self) -> None:
        """Show one node a cell, or whole strings."""
        self.is_zoomed = not self.is_zoomed
        self.refresh()

    def toggle_blind(self) -> None:
        """Draw no lights, or draw them again."""
        self.is_blind = not self.is_blind
        self.refresh()

    def next_arrivals(self) -> str:
        """Show arrivals in the next way; returns which."""
        self.arrivals = ARRIVALS[(ARRIVALS.index(self.arrivals) + 1) % len(ARRIVALS)]
        self._lay_out()
        return self.arrivals

    def on_resize(self, _event: Resize) -> None:
        """Choose the lines that fit."""
        self._lay_out()

    def _keep_in_view(self) -> None:
        at = next((y for y, line in enumerate(self._lines) if line == Line(Kind.SENT, self.cursor)), 0)
        last = max(1, self.size.height - 2)
        if not self.scroll_offset.y <= at < self.scroll_offset.y + last:
            self.scroll_to(y=max(0, at - last // 2), animate=False)

    def _lay_out(self) -> None:
        tries = (self._lined_out(tall, is_spaced=is_spaced) for tall, is_spaced in ((2, True), (1, True), (1, False)))
        lines = next((lines for lines in tries if len(lines) < self.size.height), self._lined_out(1, is_spaced=False))
        self._lines = lines
        self.virtual_size = Size(self.size.width, len(lines) + 1)
        self.refresh()

    def _has_arrival_line(self, row: int) -> bool:
        if self._arrived is None or self.arrivals == NOWHERE:
            return False
        return self.arrivals == EVERYWHERE or self._comparison.marks[row] == DIFFERS

    def _geometry(self) -> Geometry:
        longest = max((row.port.nodes for row in self.strings), default=1)
        return Geometry.fit(self.size.width, self._label_cells, longest, is_zoomed=self.is_zoomed, focus=self.node)

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"lane--{name}", partial=True)

    def render_line(self, y: int) -> Strip:
        """Draw one line of what is in view; the first is the ruler and does not scroll."""
        return self._line(y).apply_style(self.rich_style)

    def _line(self, y: int) -> Strip:
        width = self.size.width
        if not self.strings and not self.fixtures:
            text = INVITATION[y] if y < len(INVITATION) else ""
            return Strip([Segment(cut(text, width), self._style("name"))])
        if y == 0:
            return ruler(self._geometry(), self.node, self._style("quiet"), self._style("pointer")).crop(0, width)
        index = y - 1 + self.scroll_offset.y
        if index >= len(self._lines):
            return Strip.blank(width)
        return Strip(self._draw(self._lines[index])).crop(0, width)

    def _lined_out(self, tall: int, *, is_spaced: bool) -> list[Line]:
        lines: list[Line] = []
        for index, controller in enumerate(self._display.controllers if self._display else ()):
            if self.size.height >= HEADS_FROM_HEIGHT:
                lines += [*([Line(Kind.GAP, 0)] * bool(lines and not is_spaced)), Line(Kind.CONTROLLER, index)]
            for row, string in enumerate(self.strings):
                if string.controller is controller:
                    kinds = (Kind.SENT, Kind.ARRIVED) if self._has_arrival_line(row) else (Kind.SENT,)
                    lines += [Line(kind, row, part) for kind in kinds for part in range(tall)]
                    lines += [Line(Kind.GAP, row)] * is_spaced
            lines += [Line(Kind.FIXTURE, row) for row, each in enumerate(self.fixtures) if each.controller is controller]
        return lines

    def _draw(self, line: Line) -> list[Segment]:
        match line.kind:
            case Kind.CONTROLLER:
                return self._draw_controller(line.index)
            case Kind.GAP:
                return [Segment(" " * self.size.width)]
            case Kind.FIXTURE:
                return self._draw_fixture(self.fixtures[line.index])
            case _:
                return self._draw_string(line)

    def _draw_controller(self, index: int) -> list[Segment]:
        from streamer.display.numbering import PROTOCOL_NAME

        controller = self._display.controllers[index] if self._display else None
        text = f" {shown(controller.name)}  {PROTOCOL_NAME[controller.protocol]} to {shown(controller.address)}" if controller else ""
        return [Segment(cut(text, self.size.width), self._style("head"))]

    def _draw_fixture(self, row: FixtureRow) -> list[Segment]:
        geometry = self._geometry()
        values = self._sent.channels[row.start : row.start + len(row.fixture.channels)].tolist() if self._sent else []
        values += [0] * (len(row.fixture.channels) - len(values))
        text = "  ".join(f"{role} {value}" for role, value in zip(row.fixture.channels, values, strict=True))
        style = self._style("name") if any(values) else self._style("quiet")
        name = name_text(row.fixture.name, "", geometry.left - SWITCH_CELLS - 1)
        return [Segment("   " + name + " ", self._style("name")), Segment(cut(text, geometry.field + geometry.right), style)]

    def _draw_string(self, line: Line) -> list[Segment]:
        geometry, row = self._geometry(), self.strings[line.index]
        frame = self._sent if line.kind is Kind.SENT else self._arrived
        return [
            *self._label(line, row, geometry),
            *self._beads(line, row, frame, geometry),
            *self._count(line, row, geometry),
        ]

    def _label(self, line: Line, row: StringRow, geometry: Geometry) -> list[Segment]:
        room = geometry.left - SWITCH_CELLS - 1
        if line.part:
            return [Segment(" " * geometry.left)]
        if line.kind is Kind.ARRIVED:
            return [Segment(cut("   └ arrives", geometry.left), self._style("quiet"))]
        is_here = line.index == self.cursor
        sign = f"{CURSOR if is_here else ' '}{ON if self._is_on(row) else OFF_SIGN} "
        name = name_text(row.port.name, row.port.label, room)
        style = self._style("cursor") if is_here else self._style("name" if self._is_on(row) else "quiet")
        return [Segment(f"{sign}{name} ", style)]

    def _is_on(self, row: StringRow) -> bool:
        return self._ports_on is None or row.port.name in self._ports_on

    def _beads(self, line: Line, row: StringRow, frame: "Frame | None", geometry: Geometry) -> list[Segment]:
        sign = UNLIT if self._is_on(row) else OFF
        unlit = (sign, self._style("unlit"))
        if frame is None or self.is_blind:
            cells = min(geometry.field, -(-max(0, row.port.nodes - geometry.first) // geometry.per_cell))
            text = "lights not drawn, b draws them" if self.is_blind and frame is not None else sign * cells
            return [Segment(cut(text, geometry.field), unlit[1])]
        focus = self.node if line.index == self.cursor else None
        return bead_segments(frame.nodes[row.start : row.end], geometry, self._gain, unlit, focus)

    def _count(self, line: Line, row: StringRow, geometry: Geometry) -> list[Segment]:
        mark = self._comparison.marks[line.index] if self._arrived is not None else UNKNOWN
        count = self._comparison.counts[line.index]
        style = self._style("differs" if mark == DIFFERS else "quiet")
        if line.kind is Kind.ARRIVED:
            text = f"{count} {mark}" if mark == DIFFERS else ""
        else:
            text = f"{row.port.nodes} {mark}"
        text = "" if line.part else text
        return [Segment(cut(text.rjust(geometry.right - 1) + " ", geometry.right), style)]

    def on_click(self, event: Click) -> None:
        """Look at what was tapped; left of it is the switch, right of it 'only this'."""
        index = event.y - 1 + self.scroll_offset.y
        if event.y == 0 or index >= len(self._lines) or self._lines[index].kind not in {Kind.SENT, Kind.ARRIVED}:
            return
        self.cursor = self._lines[index].index
        self._follow()
        geometry, name = self._geometry(), self.strings[self.cursor].port.name
        if event.x < SWITCH_CELLS:
            self.post_message(self.Tapped(name, is_only=False))
        elif event.x >= geometry.left + geometry.field:
            self.post_message(self.Tapped(name, is_only=True))
        self.pin(geometry.node_at(event.x) if geometry.left <= event.x < geometry.left + geometry.field else self.pinned)
