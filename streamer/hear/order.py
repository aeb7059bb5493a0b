"""The standards' rules on sequence numbers and silence, for many packets of many streams at once.

The rules themselves are in `streamer.wire.sequence`; this is the same without a loop, except for
the few streams whose packets are out of order.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.display.model import Protocol
from streamer.hear import late
from streamer.wire import sequence
from streamer.wire.artnet_reception import ORDER_TIMEOUT_S
from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S

NONE = -1
"""Stands for the sequence number of a stream that had no packet yet, was lost, or terminated."""

Numbers = NDArray[np.intp]
Seconds = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Rule:
    """What a protocol makes of sequence numbers."""

    numbers: int
    """How many there are before they begin again."""
    unordered: int
    """Stands for packets that are not numbered; NONE where there are no such packets."""
    timeout_s: float
    """After so long without a packet in order any number is accepted."""

    def accepts(self, last: int, new: int) -> bool:
        """Say whether a packet is in order after another one of a stream that is not silent."""
        if last == NONE:
            return True
        if self.unordered == NONE:
            return sequence.e131_accepts(last, new)
        return sequence.artnet_accepts(last, new)

    def lost_between(self, last: int, new: int) -> int:
        """Return how many packets are missing between two."""
        if last == NONE:
            return 0
        if self.unordered == NONE:
            return sequence.e131_lost_between(last, new)
        return sequence.artnet_lost_between(last, new)

    def step(self, last: int, new: int) -> int:
        """Return by how many numbers `new` follows `last`: 0 and less where it is older, late.NEW if new."""
        if last == NONE or self.unordered in {last, new}:
            return late.NEW
        half = self.numbers // 2
        return (new - last + half) % self.numbers - half


RULES = {
    Protocol.E131: Rule(sequence.E131_NUMBERS, NONE, DATA_LOSS_TIMEOUT_S),
    Protocol.ARTNET: Rule(sequence.ARTNET_NUMBERS, sequence.ARTNET_UNORDERED, ORDER_TIMEOUT_S),
}


@dataclass(slots=True)
class Grouped:
    """N packets, sorted by stream and in order of arrival within each; G streams."""

    rows: Numbers
    """(N,): the stream of each."""
    sequences: Numbers
    """(N,)"""
    heard_s: Seconds
    """(N,)"""
    dropped: Numbers
    """(N,): as in Arrivals."""
    firsts: Numbers
    """(G,): where each stream's packets begin."""


@dataclass(slots=True)
class Judged:
    """What the rules make of them."""

    is_accepted: Flags
    """(N,): in order."""
    lost: Numbers
    """(N,): missing before each."""
    interval_s: Seconds
    """(N,): since the packet before, infinite for the first of a stream."""
    dropped: Numbers
    """(N,): how many of whatever stream this machine dropped since the packet before."""
    was_late: Flags
    """(N,): not in order, and counted as lost before."""
    missing: late.Bits
    """(G,): after the last packet of each stream."""


@dataclass(slots=True)
class Lasts:
    """The last packet accepted of every stream, a row each."""

    sequences: Numbers
    heard_s: Seconds
    dropped: Numbers
    missing: late.Bits


def group(rows: Numbers, sequences: Numbers, heard_s: Seconds, dropped: Numbers) -> tuple[Numbers, Grouped]:
    """Sort packets by stream; return the order too, as indices into what was given."""
    order = np.argsort(rows, kind="stable")
    rows = rows[order]
    is_first = np.empty(len(rows), np.bool_)
    is_first[:1] = True
    is_first[1:] = rows[1:] != rows[:-1]
    firsts = np.flatnonzero(is_first)
    return order, Grouped(rows, sequences[order], heard_s[order], dropped[order], firsts)


def judge(packets: Grouped, lasts: Lasts, rule: Rule) -> Judged:
    """Apply the rules, given the last packet accepted of every stream."""
    rows_of_firsts = packets.rows[packets.firsts]
    before, before_s = np.roll(packets.sequences, 1), np.roll(packets.heard_s, 1)
    before[packets.firsts] = lasts.sequences[rows_of_firsts]
    before_s[packets.firsts] = lasts.heard_s[rows_of_firsts]
    dropped_before = np.roll(packets.dropped, 1)
    dropped_before[packets.firsts] = lasts.dropped[rows_of_firsts]
    interval_s = packets.heard_s - before_s
    half = rule.numbers // 2
    step = (packets.sequences - before + half) % rule.numbers - half
    is_free = (before == NONE) | (interval_s >= rule.timeout_s)
    if rule.unordered != NONE:
        is_free |= (before == rule.unordered) | (packets.sequences == rule.unordered)
    step[is_free] = late.NEW
    is_accepted = (step > 0) | (step <= -sequence.DISCARD_STEPS)
    judged = Judged(
        is_accepted=is_accepted,
        lost=np.maximum(step - 1, 0),
        interval_s=interval_s,
        dropped=packets.dropped - dropped_before,
        was_late=np.zeros(len(step), np.bool_),
        missing=late.after_steps(lasts.missing[rows_of_firsts], step, packets.firsts),
    )
    if not is_accepted.all():
        _judge_one_by_one(packets, judged, lasts, rule)
    return judged


def _judge_one_by_one(packets: Grouped, judged: Judged, lasts: Lasts, rule: Rule) -> None:
    """Judge streams anew that have a packet out of order: what comes after it follows the one before it."""
    ends = np.append(packets.firsts[1:], len(packets.rows))
    is_mixed = ~np.logical_and.reduceat(judged.is_accepted, packets.firsts)
    for stream in np.flatnonzero(is_mixed).tolist():
        first, end = int(packets.firsts[stream]), int(ends[stream])
        row = packets.rows[first]
        number, number_s = int(lasts.sequences[row]), float(lasts.heard_s[row])
        dropped, missing = lasts.dropped[row], int(lasts.missing[row])
        for index in range(first, end):
            new, new_s = int(packets.sequences[index]), float(packets.heard_s[index])
            known = NONE if new_s - number_s >= rule.timeout_s else number
            judged.is_accepted[index] = rule.accepts(known, new)
            judged.lost[index] = rule.lost_between(known, new) if judged.is_accepted[index] else 0
            judged.interval_s[index] = new_s - number_s
            judged.dropped[index] = packets.dropped[index] - dropped
            step = rule.step(known, new)
            if judged.is_accepted[index]:
                missing = late.after_step(missing, step)
                number, number_s, dropped = new, new_s, packets.dropped[index]
            elif late.is_missing(missing, -step):
                judged.was_late[index], missing = True, late.found(missing, -step)
        judged.missing[stream] = missing
