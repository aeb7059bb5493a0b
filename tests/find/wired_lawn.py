"""A display hung up in the yard on real sockets, and what its lights show."""

import select
import time

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.yard.faults import Fault, Flicker
from streamer.yard.sockets import YardSockets
from streamer.yard.yard import Yard

BEATS, BEAT_S = 4, 0.25
SETTLE_S, QUIET_S, LATE_S = 0.2, 0.1, 3.0
"""A picture is sent four times over, then it is quiet; a busy machine may be late."""


class Lawn:
    """The yard on real sockets, looked at for a second at a time."""

    def __init__(self, display: Display, faults: dict[str, list[Fault]]) -> None:
        self.yard = Yard(display)
        for port, given in faults.items():
            self.yard.set_faults(port, given)
        self.flickers = any(isinstance(each, Flicker) for given in faults.values() for each in given)
        self.sockets = YardSockets(self.yard)

    def wait(self, seconds: float) -> None:
        """Take what arrives for so long, and all that has, however late this process comes to it."""
        limit_s = time.monotonic() + seconds
        while (left_s := limit_s - time.monotonic()) > 0:
            select.select(self.sockets.filenos(), [], [], left_s)
            self.sockets.poll(time.monotonic())
        while self.sockets.poll(time.monotonic()):
            pass

    def settle(self, settle_s: float = SETTLE_S, quiet_s: float = QUIET_S) -> None:
        """Wait until a picture has come and nothing more does."""
        self.wait(settle_s)
        limit_s = time.monotonic() + LATE_S
        while time.monotonic() < limit_s and select.select(self.sockets.filenos(), [], [], quiet_s)[0]:
            self.sockets.poll(time.monotonic())

    def samples(self, port: str, *, flickers: bool) -> list[Bytes]:
        """Return what a port's lights show, at one moment or over a second."""
        found = []
        for _ in range(BEATS if flickers else 1):
            self.yard.expire(time.monotonic())
            found.append(self.yard.shown(port))
            if flickers:
                self.wait(BEAT_S)
        return found
