"""One key from the terminal, or one line from a pipe, while the lights are attended and signals are heard."""

import os
import select
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TextIO

CLOSED = -1
TURN_S = 0.1
LINE_LIMIT_OCTETS = 4_096
READ_OCTETS = 4_096


class Keys:
    """What a person or a program types; nothing where standard input is closed (`source` is None then).

    `meanwhile` is called about ten times a second.
    """

    def __init__(
        self, source: TextIO | None, meanwhile: Callable[[], None], is_asked_to_end: Callable[[], bool]
    ) -> None:
        self._descriptor = source.fileno() if source else CLOSED
        self.is_terminal = source is not None and source.isatty()
        self._meanwhile = meanwhile
        self._is_asked_to_end = is_asked_to_end
        self._read = b""
        self._has_ended = source is None

    @contextmanager
    def at_once(self) -> Iterator[None]:
        """Have keys at once and unseen, where this is a terminal; then put it back as it was."""
        if sys.platform == "win32" or not self.is_terminal:
            yield
            return
        import termios
        import tty

        before = termios.tcgetattr(self._descriptor)
        try:
            tty.setcbreak(self._descriptor)
            yield
        finally:
            termios.tcsetattr(self._descriptor, termios.TCSADRAIN, before)

    def discard(self) -> None:
        """Throw away the keys typed so far: one that was pressed twice must not answer the next question."""
        if sys.platform != "win32" and self.is_terminal:
            import termios

            termios.tcflush(self._descriptor, termios.TCIFLUSH)
            self._read = b""

    def key(self) -> str | None:
        """Return one character as it is typed; None when the end is asked for, or the input has ended."""
        if self._is_asked_to_end():
            return None
        while not self._read:
            if not self._wait():
                return None
        return self._read.decode("utf-8", "replace")[0]

    def line(self) -> str | None:
        """Return one line without its end; None when the end is asked for, or the input has ended."""
        if self._is_asked_to_end():
            return None
        while b"\n" not in self._read and len(self._read) < LINE_LIMIT_OCTETS:
            if not self._wait():
                line, self._read = self._read, b""
                return line.decode("utf-8", "replace") or None
        line, _, self._read = self._read.partition(b"\n")
        return line.decode("utf-8", "replace")

    def _wait(self) -> bool:
        """Wait for more to read; False when there will be none."""
        while not (self._has_ended or self._is_asked_to_end()):
            self._meanwhile()
            if select.select([self._descriptor], [], [], TURN_S)[0]:
                piece = os.read(self._descriptor, READ_OCTETS)
                self._has_ended = not piece
                self._read += piece
                return bool(piece)
        return False
