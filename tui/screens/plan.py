"""The plan of the display in hand: what would go wrong, then every port, supply and cable. It only shows."""

from collections.abc import Callable, Iterable
from functools import partial
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.worker import Worker, WorkerState

from streamer.errors import RopewalkError
from tui.plain import shown
from tui.planning import Planned
from tui.screens.sheet import Sheet
from tui.widgets.plan_text import PlanText

WORKING = "It is being worked out..."


class PlanSheet(Sheet[None]):
    """Scrolls. `ask` gives, at once, what works the plan out of what is sent now; that runs in a thread."""

    title_text = "Plan"
    caps = (("Enter", "As sent now", "screen.again"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("a", "back_out", "Back", show=False),
        Binding("enter", "again", "As sent now", show=False),
    ]

    def __init__(self, ask: Callable[[], Callable[[], Planned]]) -> None:
        super().__init__()
        self._ask = ask

    def body(self) -> Iterable[Widget]:
        """Return the plan."""
        with VerticalScroll(classes="sheet-body"):
            yield PlanText(WORKING, markup=False)

    def on_mount(self) -> None:
        """Let the arrows scroll at once, and begin."""
        self.query_one(VerticalScroll).focus()
        self.action_again()

    def action_again(self) -> None:
        """Work it out for the frame that is being sent now."""
        self.run_worker(partial(self._worked_out, self._ask()), thread=True, exclusive=True)

    @staticmethod
    def _worked_out(work_out: Callable[[], Planned]) -> Planned | str:
        try:
            return work_out()
        except RopewalkError as error:
            return str(error)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """Show what came of it."""
        if event.state is not WorkerState.SUCCESS:
            return
        text, result = self.query_one(PlanText), event.worker.result
        if isinstance(result, Planned):
            text.show_plan(result)
        else:
            text.update(f"! {shown(str(result))}")
