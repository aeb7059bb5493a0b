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
from tui.picture import ARRIVALS, FITTING, Choice, Picture
from tui.plain import cut
from tui.rows import Kind, Line
from tui.widgets.lane_drawing import LABEL_GAP, Geometry, ruler
from tui.widgets.lane_text import SWITCH_CELLS, LaneText

if TYPE_CHECKING:
    from patterns.plain import Frame

RULER_LINES = 1
LABEL_LEAST = 10
INVITATION = (
    "",
    "  Where are your lights?",
    "",
    "  Enter   a file, or just universes",
    "  ?       every key; the cautions",
    "",
    "  No lights at hand? Press q, then",
    "  type:   ropewalk demo",
)


class Lane(ScrollView, can_focus=False):
    """Shows a `Picture` the way a `Choice` says."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "lane--quiet", "lane--unlit", "lane--name", "lane--cursor",
        "lane--pointer", "lane--differs", "lane--head",
    }  # fmt: skip

    class Tapped(Message):
        """A string's switch (left of the beads) was tapped, or its count (right of them): only this."""

        def __init__(self, port: str, *, is_only: bool) -> None:
            super().__init__()
            self.port, self.is_only = port, is_only

    class Looked(Message):
        """Another string or node is looked at."""

    def __init__(self, **kwargs: str) -> None:
        super().__init__(**kwargs)  # type: ignore[arg-type]
        self.picture = Picture()
        self.choice = Choice()
        self.arrivals = FITTING
        self.is_zoomed = False
        self.is_blind = False
        self._lines: list[Line] = []
        self._label_cells = 0

    def show_display(self, display: Display | None) -> None:
        """Lay out the rows anew, if it is another display."""
        if display is self.picture.display:
            return
        self.picture = Picture(display)
        names = [f"{row.port.name}{LABEL_GAP}{row.port.label}" for row in self.picture.strings]
        names += [row.fixture.name for row in self.picture.fixtures]
        self._label_cells = max([LABEL_LEAST, *map(len, names)]) + SWITCH_CELLS + 1
        self._lay_out()

    def show_choice(self, choice: Choice) -> None:
        """Show which ports are on, the level, and the notes."""
        if choice != self.choice:
            self.choice = choice
            self.refresh()

    def see(self, sent: "Frame | None", arrived: "Frame | None") -> None:
        """Take in what is sent and what arrives now; draw the lines that differ from before."""
        looked_at = self._looked_at
        changed = self.picture.see(sent, arrived)
        if changed and self._lines_now() != self._lines:
            self._lay_out()
        elif not self.is_blind:
            self._refresh_rows(changed)
        if self._looked_at != looked_at:
            self._look()

    @property
    def _looked_at(self) -> tuple[int, bytes]:
        components = self.picture.components
        return self.picture.node, b"" if components is None else components.tobytes()

    def _refresh_rows(self, rows: set[int]) -> None:
        fixtures = len(self.picture.strings) in rows
        for y, line in enumerate(self._lines[self.scroll_offset.y :][: self._room]):
            is_string = line.kind in {Kind.SENT, Kind.ARRIVED}
            if (is_string and line.index in rows) or (line.kind is Kind.FIXTURE and fixtures):
                self.refresh(Region(0, y + RULER_LINES, self.size.width, 1))

    def _look(self) -> None:
        if self.is_zoomed:
            self.refresh()
        self.refresh(Region(0, 0, self.size.width, RULER_LINES))
        self.post_message(self.Looked())

    def look_at(self, cursor: int, pinned: int | None) -> None:
        """Look at a string, and at one node of it (from 0) or wherever its light is."""
        self.picture.look_at(cursor, pinned)
        self._keep_in_view()
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

    @property
    def _room(self) -> int:
        return max(0, self.size.height - RULER_LINES)

    def _lines_now(self) -> list[Line]:
        return self.picture.lines(self._room, self.arrivals)

    def _lay_out(self) -> None:
        self._lines = self._lines_now()
        self.virtual_size = Size(self.size.width, len(self._lines) + RULER_LINES)
        self.refresh()

    def _keep_in_view(self) -> None:
        here = Line(Kind.SENT, self.picture.cursor)
        at = self._lines.index(here) if here in self._lines else 0
        if not self.scroll_offset.y <= at < self.scroll_offset.y + max(1, self._room - 1):
            self.scroll_to(y=max(0, at - self._room // 2), animate=False)

    def _geometry(self) -> Geometry:
        picture = self.picture
        return Geometry.fit(
            self.size.width, self._label_cells, picture.longest, is_zoomed=self.is_zoomed, focus=picture.node
        )

    def _style(self, name: str) -> Style:
        return self.get_component_rich_style(f"lane--{name}", partial=True)

    def render_line(self, y: int) -> Strip:
        """Draw one line of what is in view; the first is the ruler and does not scroll."""
        strip = self._ruler_or_line(y).extend_cell_length(self.size.width).crop(0, self.size.width)
        return strip.apply_style(self.rich_style)

    def _ruler_or_line(self, y: int) -> Strip:
        if not self._lines:
            text = INVITATION[y] if y < len(INVITATION) else ""
            return Strip([Segment(cut(text, self.size.width), self._style("name"))])
        geometry = self._geometry()
        if y < RULER_LINES:
            return ruler(geometry, self.picture.node, self._style("quiet"), self._style("pointer"))
        index = y - RULER_LINES + self.scroll_offset.y
        if index >= len(self._lines):
            return Strip([])
        lane_text = LaneText(self.picture, self.choice, geometry, self.is_blind, self._style)
        return Strip(lane_text.draw(self._lines[index]))

    def on_click(self, event: Click) -> None:
        """Look at what was tapped; left of the beads is the switch, right of them 'only this'."""
        index = event.y - RULER_LINES + self.scroll_offset.y
        if event.y < RULER_LINES or index >= len(self._lines):
            return
        line, geometry = self._lines[index], self._geometry()
        if line.kind not in {Kind.SENT, Kind.ARRIVED}:
            return
        is_on_beads = geometry.left <= event.x < geometry.left + geometry.field
        self.look_at(line.index, geometry.node_at(event.x) if is_on_beads else self.picture.pinned)
        if event.x < SWITCH_CELLS or event.x >= geometry.left + geometry.field:
            name = self.picture.strings[line.index].port.name
            self.post_message(self.Tapped(name, is_only=event.x >= SWITCH_CELLS))
