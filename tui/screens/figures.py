"""The sheet with the figures of a run: counts, lateness, errors and ways, up to date while it is open."""

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget

from tui.screens.sheet import Sheet
from tui.widgets.figures import Figures


class FigureSheet(Sheet[None]):
    """Scrolls."""

    title_text = "How it sends"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("i", "back_out", "Back", show=False)]

    def body(self) -> Iterable[Widget]:
        """Return the figures."""
        with VerticalScroll(classes="sheet-body"):
            yield Figures()

    def on_mount(self) -> None:
        """Let the arrows scroll at once."""
        self.query_one(VerticalScroll).focus()
