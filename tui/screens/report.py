"""The report of a night run: the verdict, the timeline, every event, and what it proves. It only shows."""

from collections.abc import Callable, Iterable
from functools import partial
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.worker import Worker, WorkerState

from streamer.errors import RopewalkError
from tui.plain import shown
from tui.reporting import Reported
from tui.screens.sheet import Sheet
from tui.widgets.report_text import ReportText

READING = "The journal is being read..."


class ReportSheet(Sheet[None]):
    """Scrolls. `ask` reads the report of a run by its number, or of the last; that runs in a thread."""

    title_text = "Night report"
    caps = (
        ("←", "Night before", "screen.older"),
        ("→", "Night after", "screen.newer"),
        ("Esc", "Back", "screen.back_out"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("j", "back_out", "Back", show=False),
        Binding("left", "older", "Night before", show=False, priority=True),
        Binding("right", "newer", "Night after", show=False, priority=True),
        Binding("enter", "again", "Read again", show=False),
    ]

    def __init__(self, ask: Callable[[int | None], Reported]) -> None:
        super().__init__()
        self._ask = ask
        self._number: int | None = None

    def body(self) -> Iterable[Widget]:
        """Return the report."""
        with VerticalScroll(classes="sheet-body"):
            yield ReportText(READING, markup=False)

    def on_mount(self) -> None:
        """Let the arrows scroll at once, and begin."""
        self.query_one(VerticalScroll).focus()
        self.action_again()

    def action_again(self) -> None:
        """Read the same run again: it may be going on."""
        self.run_worker(partial(self._read, self._ask, self._number), thread=True, exclusive=True)

    def action_older(self) -> None:
        """Read the run before."""
        reported = self.query_one(ReportText).reported
        self._go(reported.older if reported else None)

    def action_newer(self) -> None:
        """Read the run after."""
        reported = self.query_one(ReportText).reported
        self._go(reported.newer if reported else None)

    def _go(self, number: int | None) -> None:
        if number is not None:
            self._number = number
            self.action_again()

    @staticmethod
    def _read(ask: Callable[[int | None], Reported], number: int | None) -> Reported | str:
        try:
            return ask(number)
        except (RopewalkError, OSError) as error:
            return str(error)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show what came of it."""
        if event.state is not WorkerState.SUCCESS:
            return
        text, result = self.query_one(ReportText), event.worker.result
        if isinstance(result, Reported):
            text.show_report(result)
        else:
            text.update(f"! {shown(str(result))}")
