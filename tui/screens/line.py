"""Asks for one line of text."""

from collections.abc import Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from tui.plain import shown
from tui.screens.sheet import Sheet


class Line(Sheet[str]):
    """Answers what was typed; None for nothing."""

    caps = (("Enter", "Write it", "screen.write"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [Binding("enter", "write", "Write it", show=False)]

    def __init__(self, title: str, question: str, limit: int) -> None:
        super().__init__()
        self.title_text, self._question, self._limit = title, question, limit

    def body(self) -> Iterable[Widget]:
        """Return the question and the field."""
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Static(Content(shown(self._question)))
            yield Input(max_length=self._limit)

    def on_mount(self) -> None:
        """Let one type at once."""
        self.query_one(Input).focus()

    def on_input_submitted(self, _event: Input.Submitted) -> None:
        """Enter in the field writes it."""
        self.action_write()

    def action_write(self) -> None:
        """Answer, if there is anything to answer."""
        self.once_typed(lambda: self.dismiss(self.query_one(Input).value.strip() or None))
