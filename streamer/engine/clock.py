"""The frame clock: absolute deadlines, so errors do not add up. Time is an argument.

A frame whose moment has passed altogether is skipped and counted. It is never sent later: a burst
overruns the small buffers of controllers, and shows a person nothing.
"""

import math
from array import array
from bisect import bisect_left
from typing import NamedTuple

import numpy as np

from streamer.engine.messages import RATE_HIGH_HZ, Lateness, LatenessBin

LATE_SHARE = 0.1
"""A frame counts as late from this share of its period on."""
US_PER_S = 1e6
BIN_EDGES_US = (50.0, 100.0, 200.0, 500.0, 1_000.0, 2_000.0, 5_000.0, 10_000.0, 20_000.0)
"""Of the histogram that is told; a frame at the highest rate takes 22.7 ms."""
SHARES = (0.50, 0.90, 0.99, 0.999)
NAMES = ("p50_us", "p90_us", "p99_us", "p999_us")


class Arrival(NamedTuple):
    """How the moment of a frame was met."""

    moment_s: float
    """When the frame that is kept was due."""
    lateness_s: float
    skipped: int
    """Frames before this one whose moments passed altogether."""
    is_late: bool


class FrameClock:
    """Says when the next frame is due: `start_s` + k / `rate_hz` on the caller's monotonic clock."""

    def __init__(self, rate_hz: float, start_s: float) -> None:
        self._rate_hz = rate_hz
        self._origin_s = start_s
        self._count = 0
        self._arrived_s = -math.inf

    @property
    def deadline_s(self) -> float:
        """The moment of the next frame."""
        return self._origin_s + self._count / self._rate_hz

    def moment_s(self, frames: int) -> float:
        """Return the moment of the frame so many after the next."""
        return self._origin_s + (self._count + frames) / self._rate_hz

    @property
    def latest_s(self) -> float:
        """How long after its moment a frame is not yet late."""
        return LATE_SHARE * self.period_s

    @property
    def period_s(self) -> float:
        """The time between frames."""
        return 1 / self._rate_hz

    def arrive(self, now_s: float) -> Arrival:
        """Keep the frame that is due at `now_s`, at or after its deadline, and go on to the next."""
        skipped = max(0, int((now_s - self.deadline_s) * self._rate_hz))
        self._arrived_s = now_s
        self._count += skipped
        moment_s = self.deadline_s
        lateness_s = max(0.0, now_s - moment_s)
        if skipped:
            # The frame after this one would follow too closely (ANSI E1.31-2018 clause 6.6.1).
            self._origin_s, self._count = now_s, 0
        self._count += 1
        return Arrival(moment_s, lateness_s, skipped, skipped > 0 or lateness_s > self.latest_s)

    def put_off_to(self, start_s: float) -> None:
        """Let the next frame be due no sooner than at `start_s`, and count on from there."""
        if start_s > self.deadline_s:
            self._origin_s, self._count = start_s, 0

    def hasten_to(self, now_s: float) -> None:
        """Let the next frame be due at `now_s`, or as soon after the last as E1.31-2018 6.6.1 allows."""
        soonest_s = max(now_s, self._arrived_s + 1 / RATE_HIGH_HZ)
        if soonest_s < self.deadline_s:
            self._origin_s, self._count = soonest_s, 0

    def change_rate(self, rate_hz: float) -> None:
        """Go on at another rate; the frame that is due next keeps its moment."""
        self._origin_s = self.deadline_s
        self._count = 0
        self._rate_hz = rate_hz


class LatenessCounter:
    """Percentiles over a whole run in bounded memory: bins 5 % wide from 1 us to beyond an hour."""

    _WIDTH = 1.05
    _BINS = 460

    def __init__(self) -> None:
        self._bins = array("q", bytes(self._BINS * 8))
        self._told = [0] * (len(BIN_EDGES_US) + 1)
        self._of_histogram = [LatenessBin(up_to_us=edge, frames=0) for edge in (*BIN_EDGES_US, None)]
        """As told last: few of them change from one status to the next."""
        self._max_us = 0.0

    def add(self, lateness_s: float) -> None:
        """Count one frame."""
        us = lateness_s * US_PER_S
        self._max_us = max(self._max_us, us)
        self._told[bisect_left(BIN_EDGES_US, us)] += 1
        self._bins[min(self._BINS - 1, int(math.log(max(us, 1.0), self._WIDTH)))] += 1

    def summary(self) -> Lateness:
        """Return the percentiles by nearest rank, each as its bin's upper edge or the maximum if less."""
        # Five times a second, with cold caches: NumPy takes a fifth of what a loop over the bins does.
        reached = np.cumsum(np.frombuffer(self._bins, np.int64))
        frames = int(reached[-1])
        if not frames:
            return Lateness()
        bins = reached.searchsorted([math.ceil(share * frames) for share in SHARES]).tolist()
        percentiles = [min(self._WIDTH ** (number + 1), self._max_us) for number in bins]
        for number, told in enumerate(self._told):
            if self._of_histogram[number].frames != told:
                edge = self._of_histogram[number].up_to_us
                self._of_histogram[number] = LatenessBin(up_to_us=edge, frames=told)
        return Lateness(
            **dict(zip(NAMES, percentiles, strict=True)),
            max_us=self._max_us,
            bins=tuple(self._of_histogram),
        )
