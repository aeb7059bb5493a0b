"""Sequence numbers of both protocols: which packet is in order, how many went missing, which comes next.

A receiver keeps the last number it accepted for each source, universe and kind of packet, and accepts
whatever comes first from a source that is new, was lost or has terminated.
"""

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Numbers = TypeVar("Numbers", int, "NDArray[np.uint8]")
"""One number, or those of many packets at once."""

DISCARD_STEPS = 20
"""ANSI E1.31-2018 clause 6.7.2: a step of 0 to -19 is old; -20 and below is a source that started again."""

E131_NUMBERS = 256
"""Clause 6.2.5: 0 to 255."""

ARTNET_UNORDERED = 0
"""Art-Net 4, ArtDmx: the sender does not number its packets."""
ARTNET_NUMBERS = 255
"""Art-Net 4, ArtDmx: 1 to 255."""


def e131_accepts(last: int, new: int) -> bool:
    """Say whether `new` is in order: its step from `last`, as signed 8 bits, is not 0 to -19 (6.7.2)."""
    return not _is_old(_signed_step(last, new, E131_NUMBERS))


def e131_lost_between(last: int, new: int) -> int:
    """Return how many packets are missing between two accepted ones; 0 where the source started again."""
    return max(_signed_step(last, new, E131_NUMBERS) - 1, 0)


def e131_after(last: Numbers, steps: "int | NDArray[np.int64]") -> Numbers:
    """Return the number so many steps after `last`: 255 is followed by 0."""
    return (last + steps) & (E131_NUMBERS - 1)  # type: ignore[return-value]  # NumPy's types make it wider


def e131_next(last: Numbers) -> Numbers:
    """Return the number after `last`."""
    return e131_after(last, 1)


def e131_before(number: Numbers) -> Numbers:
    """Return the number that `number` follows."""
    return (number - 1) & (E131_NUMBERS - 1)  # type: ignore[return-value]  # NumPy's types make it wider


def artnet_accepts(last: int, new: int) -> bool:
    """Say whether an ArtDmx is in order.

    Art-Net 4 gives no discard window, so E1.31's is used on the cycle of 1 to 255. Without ordering
    on either side every packet is taken.
    """
    if ARTNET_UNORDERED in (last, new):
        return True
    return not _is_old(_signed_step(last, new, ARTNET_NUMBERS))


def artnet_lost_between(last: int, new: int) -> int:
    """Return how many ArtDmx are missing between two accepted ones; 0 where that cannot be known."""
    if ARTNET_UNORDERED in (last, new):
        return 0
    return max(_signed_step(last, new, ARTNET_NUMBERS) - 1, 0)


def artnet_after(last: Numbers, steps: "int | NDArray[np.int64]") -> Numbers:
    """Return the number so many steps, one or more, after `last`: 255 is followed by 1, and so is 0."""
    return (last % ARTNET_NUMBERS + steps - 1) % ARTNET_NUMBERS + 1  # type: ignore[return-value]  # as above


def artnet_next(last: Numbers) -> Numbers:
    """Return the number after `last`."""
    return artnet_after(last, 1)


def artnet_before(number: Numbers) -> Numbers:
    """Return the number, 1 to 255, that `number` of 1 to 255 follows."""
    # In eight bits nothing here overflows.
    return ARTNET_NUMBERS - (ARTNET_NUMBERS - number + 1) % ARTNET_NUMBERS


def _is_old(step: int) -> bool:
    return -DISCARD_STEPS < step <= 0


def _signed_step(last: int, new: int, numbers: int) -> int:
    """Return new - last on a cycle of `numbers`, from about minus half of them to half of them."""
    half = numbers // 2
    return (new - last + half) % numbers - half
