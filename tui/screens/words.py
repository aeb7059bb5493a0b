"""Everything that went wrong or was refused, in full, the newest first."""

from collections.abc import Iterable, Sequence

from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.plain import shown
from tui.screens.sheet import Sheet


class Words(Sheet[None]):
    """Scrolls."""

    title_text = "Errors and refusals"

    def __init__(self, words: Sequence[str], title: str = "") -> None:
        super().__init__()
        self.title_text = title or self.title_text
        self._words = tuple(words)

    def body(self) -> Iterable[Widget]:
        """Return the words."""
        lines = [shown(each) for each in reversed(self._words)] or [
            "Nothing went wrong, nothing was refused."
        ]
        with VerticalScroll(classes="sheet-body"):
            yield Static(Content("\n\n".join(lines)))

    def on_mount(self) -> None:
        """Let the arrows scroll at once."""
        self.query_one(VerticalScroll).focus()
