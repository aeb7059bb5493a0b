"""The loop of a night run, which owns its clocks."""

import select
from collections.abc import Callable

from streamer.soak.clocks import Clocks
from streamer.soak.night import Night
from streamer.soak.records import EndReason, EventKind
from streamer.soak.signals import Heeded

TURN_S = 0.1
"""The longest wait: signals, programme and watches have their turn within this time."""
CLOSED = "its terminal has closed; the run goes on without it"


def keep_running(
    night: Night, clocks: Clocks, heeded: Heeded, closed: Callable[[], None], told: Callable[[Night], None]
) -> None:
    """Run until the time is up or a signal asks for the end; `told` is called in every turn.

    `closed` is called when the terminal has closed. What is raised leaves the run to be taken up again.
    """
    hang_ups = 0
    while not night.is_over:
        _wait(night, clocks)
        now = clocks.unix_s(), clocks.steady_s()
        if heeded.hang_ups > hang_ups:
            hang_ups = heeded.hang_ups
            closed()
            night.note(EventKind.TERMINAL_CLOSED, CLOSED)
        if heeded.asked_to_end:
            night.end(EndReason.STOPPED, *now, words=f"by {heeded.asked_to_end}")
        elif night.stopped_by:
            night.end(EndReason.STOPPED, *now, words=night.stopped_by)
        else:
            night.tick(*now)
        told(night)


def _wait(night: Night, clocks: Clocks) -> None:
    before = clocks.unix_s(), clocks.steady_s()
    select.select(night.filenos(), [], [], TURN_S)
    night.waited(TURN_S, before, (clocks.unix_s(), clocks.steady_s()))
