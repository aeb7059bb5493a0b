"""The table of everything on the wire: a row a source, one for each universe that is asked for and silent."""

from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from textual.binding import Binding, BindingType
from textual.events import Click
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from tui.tables import Laid, lay
from tui.widgets.heard_text import Row, columns, rows_of

if TYPE_CHECKING:
    from streamer.hear.messages import Heard

MARGIN = 1


class HeardTable(ScrollView, can_focus=True):
    """The row under the cursor stays there while others come and go."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {"heard--head", "heard--cursor", "heard--quiet", "heard--clash"}
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", "Up", show=False),
        Binding("down", "move(1)", "Down", show=False),
        Binding("pageup", "move(-10)", "Up", show=False),
        Binding("pagedown", "move(10)", "Down", show=False),
        Binding("home", "move(-1000000)", "First", show=False),
        Binding("end", "move(1000000)", "Last", show=False),
    ]

    class Chosen(Message):
        """Another row is under the cursor."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: tuple[Row, ...] = ()
        self._cursor = 0
        self._cid = ""
        self._laid = Laid("", (), ())

    @property
    def row(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self._cursor] if self.rows else None

    def show(self, heard: "Heard | None", cid: str = "") -> None:
        """Show what is heard now; `cid` is ours."""
        self._cid = cid
        before = self.row.key if self.row else None
        self.rows = tuple(rows_of(heard)) if heard else ()
        keys = [row.key for row in self.rows]
        self._cursor = keys.index(before) if before in keys else min(self._cursor, max(0, len(keys) - 1))
        self._lay()

    def on_resize(self) -> None:
        """Fit the columns to the new width."""
        self._lay()

    def _lay(self) -> None:
        width = max(1, self.scrollable_content_region.width - 2 * MARGIN)
        self._laid = lay(columns(self.rows, self._cid), width) if self.rows else Laid("", (), ())
        self.virtual_size = Size(self.scrollable_content_region.width, len(self.rows) + 1)
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Return the heading, which stays, or a row."""
        index = y - 1 + self.scroll_offset.y
        width = self.size.width
        if y == 0:
            text, name = self._laid.head, "heard--head"
        elif 0 <= index < len(self._laid.rows):
            text, name = self._laid.rows[index], self._style_of(index)
        else:
            return Strip.blank(width, self.rich_style)
        style = self.get_component_rich_style(name) if name else self.rich_style
        return Strip([Segment(" " * MARGIN + text, style)]).adjust_cell_length(width, style)

    def _style_of(self, index: int) -> str:
        if index == self._cursor:
            return "heard--cursor"
        source = self.rows[index].source
        if source is None or source.standing == "none":
            return "heard--quiet"
        return "" if source.standing == "wins" else "heard--clash"

    def action_move(self, by: int) -> None:
        """Move the cursor."""
        if self.rows:
            self._cursor = max(0, min(len(self.rows) - 1, self._cursor + by))
            # The heading covers the first line.
            self.scroll_to_region(Region(0, self._cursor, 1, 2), animate=False, force=True)
            self.refresh()
            self.post_message(self.Chosen())

    def on_click(self, event: Click) -> None:
        """Choose the row that was tapped."""
        if event.y:
            self.action_move(event.y - 1 + self.scroll_offset.y - self._cursor)
