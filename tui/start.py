"""Runs the terminal screen in this terminal and gives it back whole, whatever ends it.

Textual restores the terminal when it closes, but not on SIGTERM or SIGHUP; so those close it properly here.
"""

import asyncio
import os
import signal
import sys
import threading
from concurrent.futures import Future
from functools import partial
from pathlib import Path
from types import FrameType

from streamer.engine.client import EngineLink
from streamer.engine.messages import Setup, Show
from streamer.yard.client import YardLink

SIGNAL_STATUS = 128
"""A process that a signal ends leaves with this and the signal's number, as shells count."""
CLOSING_LIMIT_S = 3.0
"""A terminal that no longer reads may hold up the closing; the process goes anyway after this."""
NO_TERMINAL = "The screen needs a terminal. Without one, use the other commands: ropewalk --help\n"
NO_TERMINAL_STATUS = 2
CRASHED = 1


def run(  # noqa: PLR0913  what a screen opens on
    link: EngineLink | Future[EngineLink],
    setup: Setup | None = None,
    show: Show | None = None,
    yard: YardLink | Future[YardLink] | None = None,
    *,
    display_file: Path | None = None,
    plays_at_once: bool = False,
    uses_mouse: bool = True,
) -> int:
    """Show the screen until it is left; returns the process's exit status, 0 only if nothing broke.

    Raises RopewalkError if an engine or a yard that was still coming up did not.
    """
    if not (sys.stdin.isatty() and sys.__stderr__ is not None and sys.__stderr__.isatty()):
        sys.stderr.write(NO_TERMINAL)
        return NO_TERMINAL_STATUS
    from tui.app import RopewalkApp

    class SignalledApp(RopewalkApp):
        """Closes on the signals that would leave the terminal broken."""

        def on_load(self) -> None:
            """Take the signals over; the loop would not hear them while it waits for the terminal."""
            self._running_loop = asyncio.get_running_loop()
            for number in (signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])):
                signal.signal(number, self._leave)

        def _leave(self, number: int, _frame: FrameType | None) -> None:
            status = SIGNAL_STATUS + number
            watchdog = threading.Timer(CLOSING_LIMIT_S, os._exit, (status,))
            watchdog.daemon = True
            watchdog.start()
            if not self._running_loop.is_closed():
                self._running_loop.call_soon_threadsafe(partial(self.exit, return_code=status))

    app = SignalledApp(link, setup, show, yard, plays_at_once=plays_at_once)
    app.opened_file = display_file
    app.run(mouse=uses_mouse)
    if app.failure is not None:
        raise app.failure
    return CRASHED if app.return_code is None else app.return_code
