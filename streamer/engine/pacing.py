"""A frame's packets, spread over a part of the frame: small controllers lose packets in a burst.

It keeps what waits and when that is due; time is an argument.
"""

from collections import deque
from collections.abc import Iterable

from streamer.display.slots import Indices
from streamer.engine.batch import Batch
from streamer.net.sender import Sender

PIECE_PACKETS = 32
SPREAD_ABOVE_PACKETS = 100
SPREAD_S = 0.010
"""Measured: a burst of 1,000 packets loses 10 % in a receive buffer of 212,992 octets, Linux's default; in
pieces of 32 over 10 ms it loses none."""
SPREAD_MAX = 0.9
NEVER_S = float("inf")


class Pacing:
    """Sends frames in pieces, over `share` of the frame (0 is all at once).

    Without a share, frames of more than 100 packets are spread over 10 ms, or less at high rates.
    """

    def __init__(self, share: float | None) -> None:
        self._share = share
        self._waiting: deque[tuple[float, Batch, Indices]] = deque()

    @property
    def wake_s(self) -> float:
        """The moment at which the next piece is due."""
        return self._waiting[0][0] if self._waiting else NEVER_S

    def put(self, due: Iterable[tuple[Batch, Indices]], now_s: float, period_s: float) -> None:
        """Let the packets of these rows go from `now_s` on; what waited before must have gone."""
        pieces = [
            (batch, rows[first : first + PIECE_PACKETS])
            for batch, rows in due
            for first in range(0, len(rows), PIECE_PACKETS)
        ]
        over_s = self._over_s(sum(len(rows) for _, rows in pieces), period_s)
        if not over_s or not pieces:
            self._waiting.extend((now_s, batch, rows) for batch, rows in due)
            return
        gap_s = over_s / len(pieces)
        self._waiting.extend((now_s + i * gap_s, batch, rows) for i, (batch, rows) in enumerate(pieces))

    def _over_s(self, packets: int, period_s: float) -> float:
        if self._share is not None:
            return self._share * period_s
        return min(SPREAD_S, SPREAD_MAX * period_s) if packets > SPREAD_ABOVE_PACKETS else 0.0

    def tick(self, sender: Sender, now_s: float) -> None:
        """Send what is due at `now_s`."""
        while self._waiting and self._waiting[0][0] <= now_s:
            _, batch, rows = self._waiting.popleft()
            batch.send(rows, sender)

    def flush(self, sender: Sender) -> None:
        """Send all that waits, before its packets are written anew."""
        self.tick(sender, NEVER_S)

    def clear(self) -> None:
        """Forget what waits: its packets will be sent by somebody else."""
        self._waiting.clear()
