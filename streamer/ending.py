"""The signals that ask a process to end. It notes them, so that what runs can be ended in order."""

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

ENDING_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP")
MAY_BE_IGNORED = "SIGHUP"
"""nohup(1) has it ignored, so that a command outlives its terminal."""


@contextmanager
def ending_signals() -> Iterator[Callable[[], bool]]:
    """Give a function that says whether one has come; the handlers of before are put back."""
    came: list[int] = []

    def note(number: int, _frame: FrameType | None) -> None:
        came.append(number)

    before = {number: signal.signal(number, note) for number in _numbers()}
    try:
        yield lambda: bool(came)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _numbers() -> Iterator[signal.Signals]:
    for name in ENDING_SIGNALS:
        number = getattr(signal, name, None)
        if number and not (name == MAY_BE_IGNORED and signal.getsignal(number) is signal.SIG_IGN):
            yield number
