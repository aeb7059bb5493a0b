"""What all sheets have in common: a title, the dark key at its place, and Esc, which always backs out."""

from collections.abc import Callable, Iterable
from functools import partial
from typing import ClassVar, TypeVar

from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widget import Widget
from textual.widgets import Static

from tui.widgets.clash import Clash
from tui.widgets.dark_cap import DarkCap
from tui.widgets.keycap import Keycap

Result = TypeVar("Result")


class Sheet(ModalScreen[Result]):
    """A sheet over the lane. `title_text` heads it; `body` is what it asks; `caps` are its keys."""

    title_text = ""
    caps: ClassVar[tuple[tuple[str, str, str], ...]] = (("Esc", "Back", "screen.back_out"),)
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "back_out", "Back", show=False)]

    def compose(self) -> ComposeResult:
        """Put the sheet together."""
        with Vertical(classes="sheet"):
            with Horizontal(classes="sheet-head"):
                yield Static(Content(self.title_text), classes="sheet-title")
                yield DarkCap()
            yield Clash()
            yield from self.body()
            with Horizontal(classes="sheet-caps"):
                for written, label, does in self.caps:
                    yield Keycap(written, label, does)

    def body(self) -> Iterable[Widget]:
        """Return what is between the title and the keys."""
        raise NotImplementedError

    def once_typed(self, then: Callable[[], object]) -> None:
        """Do `then` when every field and dial has taken in what was typed before.

        A key or a tap that the sheet itself deals with would overtake letters that a field has still to take
        in: its own turn comes after those.
        """

        def done() -> None:
            # A field that waited for what closes its sheet would wait for its own end.
            then()

        turn: Callable[[], object] = done
        for field in self.query("Input, Dial"):
            turn = partial(field.call_later, turn)
        turn()

    def dismiss(self, result: Result | None = None) -> AwaitComplete:
        """Close with an answer; what comes when it is closed already, as a second Enter does, is nothing."""
        return super().dismiss(result) if self.is_current else AwaitComplete()

    def action_back_out(self) -> None:
        """Close, with nothing done."""
        self.dismiss(None)
