"""The counters of every stream that is heard, a row each, kept in arrays that grow up to a bound.

A stream is one source of one universe. Who it is stands in `sources`; here are only numbers.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from streamer.hear.order import NONE, Grouped, Judged, Lasts, Rule, group, judge
from streamer.net.arrivals import ADDRESS_OCTETS, Arrivals

ROWS_MAX = 16_384
"""Four sources on each of 4,096 universes; with their levels some 10 MB."""
INITIAL_ROOM = 64
SLOTS_MAX = 512
NEVER_S = -np.inf

Numbers = NDArray[np.intp]
Flags = NDArray[np.bool_]


class Ledger:
    """Rows of counters. `add` gives out a row, `free` takes it back."""

    def __init__(self, rule: Rule) -> None:
        self._rule = rule
        self._used = 0
        self._free: list[int] = []
        self.sequence = np.full(INITIAL_ROOM, NONE, np.intp)
        """The last accepted."""
        self.accepted_s = np.full(INITIAL_ROOM, NEVER_S)
        """When it came."""
        self.dropped = np.zeros(INITIAL_ROOM, np.int64)
        """How many this machine had dropped by then, as in Arrivals."""
        self.seen_s = np.full(INITIAL_ROOM, NEVER_S)
        """When anything came, in order or not."""
        self.packets = np.zeros(INITIAL_ROOM, np.int64)
        self.lost = np.zeros(INITIAL_ROOM, np.int64)
        self.lost_here = np.zeros(INITIAL_ROOM, np.int64)
        """Of those, what this machine may have dropped: not more than it dropped between two packets."""
        self.missing = np.zeros(INITIAL_ROOM, np.int64)
        """Which of the latest numbers: see late.py."""
        self.out_of_order = np.zeros(INITIAL_ROOM, np.int64)
        self.header = np.zeros(INITIAL_ROOM, np.intp)
        """The header of its newest packet of levels, of its first while there was none."""
        self.sent_to = np.zeros((INITIAL_ROOM, ADDRESS_OCTETS), np.uint8)
        """As in Arrivals."""
        self.is_terminated = np.zeros(INITIAL_ROOM, np.bool_)
        self.levels = np.zeros((INITIAL_ROOM, SLOTS_MAX), np.uint8)
        self._packets_before = np.zeros(INITIAL_ROOM, np.int64)
        self._intervals = np.zeros(INITIAL_ROOM, np.int64)
        self._sum_s = np.zeros(INITIAL_ROOM)
        self._squares_s2 = np.zeros(INITIAL_ROOM)
        self._longest_s = np.zeros(INITIAL_ROOM)
        self.fps = np.zeros(INITIAL_ROOM)
        self.jitter_s = np.full(INITIAL_ROOM, np.nan)
        self.gap_s = np.full(INITIAL_ROOM, np.nan)

    @property
    def is_full(self) -> bool:
        """Whether there is no row left."""
        return not self._free and self._used >= ROWS_MAX

    def add(self, header: int) -> int:
        """Give out a row for a stream that begins with this header."""
        row = self._free.pop() if self._free else self._new_row()
        for name, array in self._arrays():
            array[row] = EMPTY.get(name, 0)
        self.header[row] = header
        return row

    def free(self, row: int) -> None:
        """Take a row back."""
        self.seen_s[row] = NEVER_S
        self._free.append(row)

    def note(
        self,
        rows: Numbers,
        arrivals: Arrivals,
        sequences: Numbers,
        ends: Flags,
    ) -> tuple[Numbers, Flags]:
        """Count N packets of these rows; `ends` says which terminate their stream.

        Return the order in which they were judged, as indices, and which of those are in order.
        """
        order, packets = group(rows, sequences, arrivals.heard_s, arrivals.dropped)
        judged = judge(packets, self._lasts(), self._rule)
        lasts = np.append(packets.firsts[1:], len(order)) - 1
        streams = packets.rows[lasts]
        self._count(streams, packets, judged)
        self._measure(streams, packets, judged)
        self.seen_s[streams] = packets.heard_s[lasts]
        self.missing[streams] = judged.missing
        self.sent_to[streams] = arrivals.destinations[order[lasts]]
        newest = np.maximum.reduceat(
            np.where(judged.is_accepted, np.arange(len(order)), NONE), packets.firsts
        )
        has_newest = newest != NONE
        at, there = newest[has_newest], streams[has_newest]
        self.sequence[there] = packets.sequences[at]
        self.accepted_s[there] = packets.heard_s[at]
        self.dropped[there] = packets.dropped[at]
        is_end = ends[order[at]]
        self.is_terminated[there] = is_end
        self.sequence[there[is_end]] = NONE
        return order, judged.is_accepted

    def _lasts(self) -> Lasts:
        return Lasts(self.sequence, self.accepted_s, self.dropped, self.missing)

    def _count(self, streams: Numbers, packets: Grouped, judged: Judged) -> None:
        accepted = np.add.reduceat(judged.is_accepted.astype(np.int64), packets.firsts)
        of_each = np.diff(np.append(packets.firsts, len(packets.rows)))
        self.packets[streams] += accepted
        self.out_of_order[streams] += of_each - accepted
        lost = judged.lost * judged.is_accepted
        self.lost[streams] += np.add.reduceat(lost, packets.firsts)
        self.lost_here[streams] += np.add.reduceat(np.minimum(lost, judged.dropped), packets.firsts)
        if judged.was_late.any():
            self.lost[streams] -= np.add.reduceat(judged.was_late.astype(np.int64), packets.firsts)
            self.lost_here[streams] = np.minimum(self.lost_here[streams], self.lost[streams])

    def _measure(self, streams: Numbers, packets: Grouped, judged: Judged) -> None:
        """Add up the intervals between packets in order of streams that were not silent before."""
        is_measured = judged.is_accepted & (judged.interval_s < self._rule.timeout_s)
        interval_s = np.where(is_measured, judged.interval_s, 0.0)
        self._intervals[streams] += np.add.reduceat(is_measured.astype(np.int64), packets.firsts)
        self._sum_s[streams] += np.add.reduceat(interval_s, packets.firsts)
        self._squares_s2[streams] += np.add.reduceat(interval_s**2, packets.firsts)
        longest_s = np.maximum.reduceat(interval_s, packets.firsts)
        self._longest_s[streams] = np.maximum(self._longest_s[streams], longest_s)

    def close_window(self, seconds: float) -> None:
        """Work out rates and jitter of the last so many seconds, and begin anew."""
        count = np.maximum(self._intervals, 1)
        variance_s2 = np.maximum(self._squares_s2 / count - (self._sum_s / count) ** 2, 0.0)
        self.fps = (self.packets - self._packets_before) / seconds
        self.jitter_s = np.where(self._intervals > 1, np.sqrt(variance_s2), np.nan)
        self.gap_s = np.where(self._intervals > 0, self._longest_s, np.nan)
        self._packets_before = self.packets.copy()
        for array in (self._intervals, self._sum_s, self._squares_s2, self._longest_s):
            array[:] = 0

    def _new_row(self) -> int:
        row = self._used
        self._used += 1
        if row >= len(self.sequence):
            for name, array in list(self._arrays()):
                setattr(self, name, np.concatenate([array, np.zeros_like(array)]))
        return row

    def _arrays(self) -> Iterator[tuple[str, NDArray[np.generic]]]:
        return ((name, value) for name, value in vars(self).items() if isinstance(value, np.ndarray))


EMPTY: dict[str, float] = {
    "sequence": NONE,
    "accepted_s": NEVER_S,
    "seen_s": NEVER_S,
    "jitter_s": np.nan,
    "gap_s": np.nan,
}
"""What a new row holds where that is not 0."""
