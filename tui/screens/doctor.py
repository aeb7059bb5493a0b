"""What is broken between here and the controllers: each check as it is made, the verdict at the end."""

from collections.abc import Callable, Iterable, Iterator
from functools import partial
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static
from textual.worker import get_current_worker

from streamer.doctor.checks import Check, State, first_broken
from streamer.doctor.words import MARKS, counts_text, instead_text, remarks_text, saw_text, seen_text, title
from streamer.errors import RopewalkError
from tui.plain import shown
from tui.screens.sheet import Sheet

LOOKING = "Looking; it takes some ten seconds, and lights nothing..."
STYLES = {
    State.WELL: "$accent",
    State.REMARK: "$warning bold",
    State.BROKEN: "$error bold",
    State.NOT_LOOKED_AT: "$quiet",
}
Look = Callable[[Callable[[], bool]], Iterator[Check]]
"""Given what says that nobody waits any more, yields checks."""


class DoctorSheet(Sheet[None]):
    """Scrolls. `look` runs in a thread, until it is through or the sheet is left."""

    title_text = "Doctor"
    caps = (("Enter", "Look again", "screen.again"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x", "back_out", "Back", show=False),
        Binding("enter", "again", "Look again", show=False),
    ]

    class Made(Message):
        """A check was made, in that turn; None at its end, with what ended it early."""

        def __init__(self, turn: int, check: Check | None, trouble: str = "") -> None:
            super().__init__()
            self.turn, self.check, self.trouble = turn, check, trouble

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._turn = 0
        self._checks: list[Check] = []

    def body(self) -> Iterable[Widget]:
        """Return the verdict, and the checks below it."""
        with VerticalScroll(classes="sheet-body"):
            yield Static(LOOKING, markup=False, id="doctor-verdict")
            yield Static("", markup=False, id="doctor-checks")

    def on_mount(self) -> None:
        """Let the arrows scroll at once, and begin."""
        self.query_one(VerticalScroll).focus()
        self.action_again()

    def action_again(self) -> None:
        """Look from the beginning."""
        self._turn += 1
        self._checks = []
        self._show(LOOKING)
        self.run_worker(partial(self._go, self._turn), thread=True, exclusive=True)

    def _go(self, turn: int) -> None:
        # Posting waits for nobody: a screen that is left would be waited for in vain.
        worker, trouble = get_current_worker(), ""
        try:
            for check in self._look(lambda: worker.is_cancelled):
                self.post_message(self.Made(turn, check))
        except RopewalkError as error:
            trouble = str(error)
        self.post_message(self.Made(turn, None, trouble))

    def on_doctor_sheet_made(self, event: Made) -> None:
        """Show it, unless it belongs to a turn before this one."""
        if event.turn != self._turn:
            return
        if event.check is None:
            self._end(event.trouble)
        else:
            self._checks.append(event.check)
            self._show(LOOKING)

    def _end(self, trouble: str) -> None:
        broken = first_broken(self._checks)
        lines = [shown(trouble)] if trouble else []
        lines.append(counts_text(self._checks))
        if broken:
            lines.append(f"The first broken link: {shown(title(broken))}. {shown(saw_text(broken))}")
            lines.append(f"→ {shown(instead_text(broken))}")
        lines += [shown(text)] if (text := remarks_text(self._checks)) else []
        self._show("\n".join(lines))

    def _show(self, verdict: str) -> None:
        self.query_one("#doctor-verdict", Static).update(Content.styled(f"{verdict}\n", "bold"))
        self.query_one("#doctor-checks", Static).update(Content("\n").join(map(_told, self._checks)))


def _told(check: Check) -> Content:
    instead = instead_text(check)
    return Content.assemble(
        (f"{MARKS[check.state]}: {shown(title(check))}", STYLES[check.state]),
        f"\n{shown(seen_text(check))}",
        (f"\n→ {shown(instead)}" if instead else "", "$accent"),
    )
