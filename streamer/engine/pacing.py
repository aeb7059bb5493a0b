"""A frame's packets, spread over a part of the frame: small controllers lose packets in a burst.

It keeps what waits and when that is due; time is an argument.
"""

from bisect import insort
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from math import ceil

from streamer.display.slots import Indices
from streamer.engine.batch import Batch

PIECE_PACKETS = 32
PIECE_MOST_PACKETS = 64
"""As many as go to one address by one call. Each piece wakes the process, so frames of more than 512 packets
go in larger ones: measured, a receive buffer of Linux's default size loses no more by that."""
PIECES = 16
PIECES_MAX = 40
"""More would have the process wake each quarter of a millisecond: larger frames go in pieces larger yet."""
SPREAD_ABOVE_PACKETS = 100
SPREAD_S = 0.010
"""Measured: a burst of 1,000 packets loses 10 % in a receive buffer of 212,992 octets, Linux's default; in
pieces over 10 ms it loses none."""
SPREAD_MAX = 0.9
NEVER_S = float("inf")

Due = tuple[Batch, Indices]
"""Rows of a batch whose packets are to go."""
Wait = Callable[[float], float | None]
"""Waits for a moment, and returns when that was; None as soon as somebody calls, who comes first."""


class Pacing:
    """Keeps frames in pieces, over `share` of the frame (0 is all at once).

    Without a share, frames of more than 100 packets are spread over 10 ms, or less at high rates.
    """

    def __init__(self, share: float | None) -> None:
        self._share = share
        self.waiting: list[tuple[float, Due]] = []
        """Pieces and their moments, the next one first."""
        self._cut: tuple[Sequence[Due], int] = ((), 0)
        self._pieces: list[Due] = []
        """Of what was cut last, and by how many packets."""

    @property
    def is_at_once(self) -> bool:
        """Whether frames of no more than 100 packets go in one piece."""
        return not self._share

    @property
    def is_waiting(self) -> bool:
        """Whether there are pieces that have not been taken."""
        return bool(self.waiting)

    @property
    def wake_s(self) -> float:
        """The moment at which the next piece is due."""
        return self.waiting[0][0] if self.waiting else NEVER_S

    @property
    def last_s(self) -> float:
        """The moment of the last piece that waits."""
        return self.waiting[-1][0] if self.waiting else NEVER_S

    def put(self, due: Sequence[Due], now_s: float, period_s: float, most_s: float = NEVER_S) -> None:
        """Let packets go from `now_s` on, over the share of `period_s`, but no longer than `most_s`."""
        self.take_over([(now_s + after_s, piece) for after_s, piece in self.cut(due, period_s, most_s)])

    def cut(self, due: Sequence[Due], period_s: float, most_s: float = NEVER_S) -> list[tuple[float, Due]]:
        """Return packets in pieces, and how long after the first each is to go."""
        packets = sum(len(rows) for _, rows in due)
        over_s = min(self._over_s(packets, period_s), most_s)
        size = _piece_packets(packets) if over_s else max(1, packets)
        pieces = self._in_pieces(due, size)
        return [(number * over_s / len(pieces), piece) for number, piece in enumerate(pieces)]

    def take_over(self, pieces: Iterable[tuple[float, Due]]) -> None:
        """Let pieces wait, each for its moment: after those of that moment that wait already."""
        for piece in pieces:
            insort(self.waiting, piece, key=lambda each: each[0])

    def _in_pieces(self, due: Sequence[Due], size: int) -> list[Due]:
        """Return these packets by so many; of the very rows that were cut last, the very same pieces."""
        if size != self._cut[1] or not are_same(due, self._cut[0]):
            self._cut = due, size
            self._pieces = [
                (batch, rows[first : first + size])
                for batch, rows in due
                for first in range(0, len(rows), size)
            ]
        return self._pieces

    def _over_s(self, packets: int, period_s: float) -> float:
        if self._share is not None:
            return self._share * period_s
        return min(SPREAD_S, SPREAD_MAX * period_s) if packets > SPREAD_ABOVE_PACKETS else 0.0

    def take(self, now_s: float) -> Iterator[Due]:
        """Yield what is due at `now_s`; each piece is yielded once."""
        while self.waiting and self.waiting[0][0] <= now_s:
            yield self.waiting.pop(0)[1]

    def drop(self, batches: Collection[Batch]) -> list[Due]:
        """Forget what waits of these batches, and return it."""
        dropped = [piece for _, piece in self.waiting if piece[0] in batches]
        self.waiting = [each for each in self.waiting if each[1][0] not in batches]
        return dropped


def _piece_packets(packets: int) -> int:
    """Return how many packets of a frame of so many make a piece."""
    in_pieces = min(max(PIECE_PACKETS, ceil(packets / PIECES)), PIECE_MOST_PACKETS)
    return max(in_pieces, ceil(packets / PIECES_MAX))


def are_same(dues: Sequence[Due], others: Sequence[Due]) -> bool:
    """Say whether these are the very rows of the very batches, in the same order."""
    return len(dues) == len(others) and all(
        due[0] is other[0] and due[1] is other[1] for due, other in zip(dues, others, strict=True)
    )
