"""Which of a stream's latest numbers are missing: one that comes after all was late, and not lost.

As RFC 3550 clause 6.4.1 counts losses. The numbers are bits of a whole number: bit 0 stands for the one
before the last accepted.
"""

import numpy as np
from numpy.typing import NDArray

from streamer.wire.sequence import DISCARD_STEPS

BITS = DISCARD_STEPS - 1
"""What comes later than that is taken for a source that started again: ANSI E1.31-2018 clause 6.7.2."""
EVERY = (1 << BITS) - 1
NEW = -DISCARD_STEPS
"""The step of a source that is new or started again, as every step below: nothing of before is missing."""

Bits = NDArray[np.int64]
Numbers = NDArray[np.intp]


def after_step(missing: int, step: int) -> int:
    """Return what is missing after a packet was accepted, by so many numbers after the last, or NEW."""
    if step <= NEW:
        return 0
    short = min(step, DISCARD_STEPS)
    return (missing << short | (1 << (short - 1)) - 1) & EVERY


def after_steps(missing: Bits, steps: Numbers, firsts: Numbers) -> Bits:
    """Return the same of G streams (G,), after N packets that were all accepted.

    `steps` (N,): by stream, in order; `firsts` (G,): where each stream's begin.
    """
    if not missing.any() and (steps == 1).all():
        return missing
    is_new = steps <= NEW
    short = np.where(is_new, DISCARD_STEPS, np.clip(steps, 1, DISCARD_STEPS))
    sums = np.cumsum(short)
    ends = np.append(firsts[1:], len(steps)) - 1
    of_each = sums[ends] - sums[firsts] + short[firsts]
    to_end = np.repeat(sums[ends], np.diff(np.append(firsts, len(steps)))) - sums
    holes = np.where(is_new, 0, (1 << (short - 1)) - 1) << np.minimum(to_end, DISCARD_STEPS)
    after: Bits = missing << np.minimum(of_each, DISCARD_STEPS) | np.bitwise_or.reduceat(holes, firsts)
    return after & EVERY


def is_missing(missing: int, steps_back: int) -> bool:
    """Say whether the number so many steps before the last accepted is missing."""
    return steps_back > 0 and bool(missing >> (steps_back - 1) & 1)


def found(missing: int, steps_back: int) -> int:
    """Return what is still missing when that one has come."""
    return missing & ~(1 << (steps_back - 1))
