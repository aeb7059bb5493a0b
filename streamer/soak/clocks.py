"""The two clocks of a night run: the one on the wall, which may be set, and one that never is."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Clocks:
    """Where the time comes from; tests give their own."""

    unix_s: Callable[[], float]
    """Seconds since 1970, in UTC."""
    steady_s: Callable[[], float]
    """Never set; goes on while the machine sleeps, where the system has such a clock."""

    def local(self) -> datetime:
        """Return what the clock on the wall shows, with its time zone."""
        return datetime.fromtimestamp(self.unix_s()).astimezone()


def these_clocks() -> Clocks:
    """Return the clocks of this machine."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return Clocks(time.time, lambda: time.clock_gettime(time.CLOCK_BOOTTIME))
    return Clocks(time.time, time.monotonic)
