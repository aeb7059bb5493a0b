"""Lines from standard input, while signals are heeded and the lights are looked after."""

import os
import select
import sys
from collections.abc import Callable

TURN_S = 0.1
LINE_LIMIT = 1000
READ_OCTETS = 4096


class Lines:
    """Reads lines; None at the end of the input, or when the end has been asked for."""

    def __init__(self, is_asked_to_end: Callable[[], bool], meanwhile: Callable[[], None]) -> None:
        self._is_asked_to_end, self._meanwhile = is_asked_to_end, meanwhile
        self._read = b""
        self._is_open = sys.stdin is not None

    def next(self) -> str | None:
        """Return the next line without its end; what is longer than any answer is cut."""
        while not self._is_asked_to_end():
            line, end, rest = self._read.partition(b"\n")
            if end or (line and not self._is_open):
                self._read = rest
                return line[:LINE_LIMIT].decode(errors="replace").strip()
            if not self._is_open:
                return None
            self._meanwhile()
            self._take()
        return None

    def _take(self) -> None:
        descriptor = sys.stdin.fileno()
        if select.select([descriptor], [], [], TURN_S)[0]:
            octets = os.read(descriptor, READ_OCTETS)
            self._is_open = bool(octets)
            self._read = (self._read + octets)[-LINE_LIMIT - READ_OCTETS :]
