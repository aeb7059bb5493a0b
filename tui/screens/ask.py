"""A question before something that can hurt: Enter goes on, Esc backs out."""

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.screens.sheet import Sheet


class Ask(Sheet[bool]):
    """Answers True, or None for no."""

    caps = (("Enter", "Go on", "screen.agree"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "agree", "Go on", show=False)]

    def __init__(self, title: str, text: str) -> None:
        super().__init__()
        self.title_text, self._text = title, text

    def body(self) -> Iterable[Widget]:
        """Return the text, scrollable."""
        with VerticalScroll(classes="sheet-body"):
            yield Static(Content(self._text))

    def action_agree(self) -> None:
        """Answer yes."""
        self.dismiss(True)
