"""Times in which nothing was heard of the engine: whether its frames went on meanwhile."""

from typing import NamedTuple

from streamer.soak.durations import in_words
from streamer.soak.findings import Finding
from streamer.soak.records import EventKind

STOP_S = 2.5
"""From this length on a stop is one: receivers then take the source for lost (ANSI E1.31-2018 clause 6.7.1,
E131_NETWORK_DATA_LOSS_TIMEOUT). What is shorter is lateness, told by the frames that were skipped."""
SETTLE_S = 2.0
"""When this process was held, what the engine has said meanwhile is read within this time."""
DARK_OR_HELD = "lights that were lit went dark or kept their last look"


class Gap(NamedTuple):
    """A time in which nothing was heard; the engine has been heard again since."""

    since_s: float
    frames: int
    """Sent before it."""
    found_s: float


class Gaps:
    """At most one gap at a time that is not judged yet."""

    def __init__(self) -> None:
        self._gap: Gap | None = None

    def find(self, gap: Gap) -> None:
        """Take a gap that is to be judged."""
        self._gap = self._gap or gap

    def forget(self) -> None:
        """Judge nothing of another engine's."""
        self._gap = None

    def judge(self, now_s: float, frames: int, rate_hz: float) -> Finding | None:
        """Return the stop that a gap was, by the frames that are missing; `frames` are those sent by now."""
        gap = self._gap
        if gap is None or now_s - gap.found_s < SETTLE_S:
            return None
        self._gap = None
        ago_s = now_s - gap.since_s
        missing_s = ago_s - (frames - gap.frames) / rate_hz
        if missing_s < STOP_S:
            return None
        words = f"no frames were sent for {in_words(missing_s)}; {DARK_OR_HELD}"
        return Finding(EventKind.STREAM_STOPPED, "", words, ago_s=ago_s, lasted_s=missing_s)
