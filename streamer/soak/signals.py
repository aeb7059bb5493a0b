"""The signals that a night run heeds: two ask it to end; the terminal's closing does not."""

import contextlib
import os
import signal
from collections.abc import Iterator
from dataclasses import dataclass
from types import FrameType

ENDING = ("SIGINT", "SIGTERM")
HANG_UP = "SIGHUP"
STANDARD = (0, 1, 2)


@dataclass(slots=True)
class Heeded:
    """What has come so far."""

    asked_to_end: str = ""
    """The name of the signal; empty while none has come."""
    hang_ups: int = 0


@contextlib.contextmanager
def heeded_signals() -> Iterator[Heeded]:
    """Note signals from here on; the handlers of before are put back."""
    heeded = Heeded()

    def note(number: int, _frame: FrameType | None) -> None:
        name = signal.Signals(number).name
        if name == HANG_UP:
            heeded.hang_ups += 1
        else:
            heeded.asked_to_end = name

    numbers = [getattr(signal, name) for name in (*ENDING, HANG_UP) if hasattr(signal, name)]
    before = {number: signal.signal(number, note) for number in numbers}
    try:
        yield heeded
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def let_go_of_terminal() -> None:
    """Have what is said to the terminal that has closed go nowhere: writing there would fail."""
    nowhere = os.open(os.devnull, os.O_RDWR)
    for descriptor in STANDARD:
        # Closed by its owner already, or never there.
        with contextlib.suppress(OSError):
            if _leads_to_terminal(descriptor):
                os.dup2(nowhere, descriptor)
    os.close(nowhere)


def _leads_to_terminal(descriptor: int) -> bool:
    """Say whether it is a terminal; one that has closed answers no question any more."""
    try:
        os.fstat(descriptor)
        return os.isatty(descriptor) or os.path.realpath(f"/proc/self/fd/{descriptor}").startswith(
            "/dev/pts/"
        )
    except OSError:
        return False
