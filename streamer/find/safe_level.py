"""The level at which no picture of a search can load a fuse or a supply above its limit.

A search lights slots, not strings, so what feeds them is not known frame by frame: the worst frame is held.
"""

from streamer.display.model import Display
from streamer.power.limiter import CurrentLimiter
from streamer.power.network import FULL

PERCENT = 100
DIMMED = (
    "All looks are at {:.3g} %: brighter, full white would load a fuse or a supply above its limit for hours "
    "(see: ropewalk plan FILE --level 100)."
)
"""Said where that level is lower than the one asked for."""


def safe_level_percent(display: Display) -> float:
    """Return the highest level, in percent, at which full white everywhere is within every limit."""
    return CurrentLimiter(display).safe_octet * PERCENT / FULL
