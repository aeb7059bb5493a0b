"""Waiting for a full send buffer to drain: a few milliseconds, and never more than a share of the time.

A frame is handed over faster than a cable carries it, and Linux lets an ordinary user buffer about 166
packets (net.core.wmem_max, 212,992 octets), so that without a wait what does not fit is lost.
"""

import select
import socket
from collections.abc import Callable

MOST_S = 0.006
"""A frame of 1,000 packets of 638 octets takes a gigabit cable 5.6 ms; a frame at 40 Hz is 25 ms."""
SHARE = 0.25
"""Of the time, at most, on a cable that is too slow for what is asked of it."""
LEAST_S = 0.001
"""poll(2) counts in milliseconds."""
MS_IN_S = 1000


class Patience:
    """How long may still be waited; it comes back as time passes."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._left_s = MOST_S
        self._asked_s = clock()

    def has_room(self, sock: socket.socket) -> bool:
        """Wait until a socket can take more, as long as patience lasts, and say whether it can."""
        began_s = self._clock()
        self._left_s = min(MOST_S, self._left_s + (began_s - self._asked_s) * SHARE)
        poller = select.poll()
        poller.register(sock, select.POLLOUT)
        timeout_s = self._left_s if self._left_s >= LEAST_S else 0.0
        ready = poller.poll(int(timeout_s * MS_IN_S))
        self._asked_s = self._clock()
        self._left_s -= self._asked_s - began_s
        return any(events & select.POLLOUT for _, events in ready)
