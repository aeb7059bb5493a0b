"""What a fuse and a supply may carry for hours, and the words of the law and the trade for it."""

import math

from streamer.display.electrics import Supply

CONTINUOUS_SHARE = 0.8
"""NEC 210.20(A) and 215.3: a load of three hours or more counts 125 %, so a fuse carries 80 % of its rating.
For the rating of a supply itself: common practice, no source."""
CONTINUOUS_WORDS = (
    "fuses and supplies are loaded to 80 % of their rating, as for loads of three hours or more (NEC "
    "210.20(A), 215.3; for supplies common practice, no source); follow your local code"
)


def fuse_limit_a(fuse_a: float | None) -> float:
    """Return what may flow through a fuse for hours; without one, anything."""
    return math.inf if fuse_a is None else CONTINUOUS_SHARE * fuse_a


def supply_limit_a(supply: Supply) -> float:
    """Return what may be drawn from a supply for hours, its own fuse included."""
    return min(CONTINUOUS_SHARE * supply.amps, fuse_limit_a(supply.fuse_a))
