"""What engines have sent since the last sample: frames, refusals, and how late frames were."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate

from streamer.engine.messages import Counts, LatenessBin
from streamer.engine.messages import Lateness as LatenessTold
from streamer.soak.records import Lateness, Sample

NOBODY_LISTENS = "ECONNREFUSED"
"""The packet has left, and reached the host: no program listens there."""
US_PER_MS = 1000
SHARES = (0.50, 0.99, 0.999)


@dataclass(slots=True)
class _Since:
    """What has happened since the last sample."""

    frames: int = 0
    late: int = 0
    skipped: int = 0
    failed: int = 0
    packets: int = 0
    errors: Counter[str] = field(default_factory=Counter)
    bins: Counter[float] = field(default_factory=Counter)
    """Frames, by the upper edge of how late they were, in microseconds."""
    max_us: float = 0


class Sent:
    """Adds up what one engine after another says it has counted, each from its own beginning."""

    def __init__(self) -> None:
        self.frames = 0
        """Since the run began, by all engines."""
        self._counts, self._lateness = Counts(), LatenessTold()
        self._since = _Since()

    def begin_anew(self) -> None:
        """Take note that what comes next is of another engine."""
        self._counts, self._lateness = Counts(), LatenessTold()

    def take(self, counts: Counts, lateness: LatenessTold) -> Counter[str]:
        """Take what an engine has counted so far; return the packets refused since it said so last."""
        before, since = self._counts, self._since
        frames = counts.frames - before.frames
        errors = Counter(counts.errors) - Counter(before.errors)
        since.frames += frames
        since.late += counts.late - before.late
        since.skipped += counts.skipped - before.skipped
        since.packets += counts.packets - before.packets
        since.errors += errors
        since.failed += min(frames, sum(errors.values()) - errors[NOBODY_LISTENS])
        self.frames += frames
        self._take_lateness(lateness)
        self._counts, self._lateness = counts, lateness
        return errors

    def _take_lateness(self, lateness: LatenessTold) -> None:
        before = {each.up_to_us: each.frames for each in self._lateness.bins}
        since = self._since
        for each in lateness.bins:
            frames = each.frames - before.get(each.up_to_us, 0)
            if frames:
                since.bins[_edge_us(each, lateness)] += frames
        if lateness.max_us > self._lateness.max_us:
            since.max_us = max(since.max_us, lateness.max_us)

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with what was sent since the last one."""
        since, self._since = self._since, _Since()
        return replace(
            sample,
            frames_sent=since.frames,
            frames_late=since.late,
            frames_skipped=since.skipped,
            frames_failed=since.failed,
            packets=since.packets,
            errors=dict(since.errors),
            lateness=_percentiles(since),
        )


def _edge_us(each: LatenessBin, lateness: LatenessTold) -> float:
    """Return the most that a frame of this bin was late."""
    return lateness.max_us if each.up_to_us is None else min(each.up_to_us, lateness.max_us)


def _percentiles(since: _Since) -> Lateness:
    """Return the percentiles by nearest rank, each as the upper edge of its bin: never less than it was."""
    frames = since.bins.total()
    if not frames:
        return Lateness()
    edges = sorted(since.bins)
    most_us = since.max_us or edges[-1]
    p50_us, p99_us, p999_us = (
        min(_reached(since, edges, math.ceil(share * frames)), most_us) for share in SHARES
    )
    return Lateness(p50_us / US_PER_MS, p99_us / US_PER_MS, p999_us / US_PER_MS, most_us / US_PER_MS)


def _reached(since: _Since, edges: Sequence[float], rank: int) -> float:
    """Return the upper edge of the bin in which the frame of a rank is."""
    reached = accumulate(since.bins[edge] for edge in edges)
    return next(edge for edge, count in zip(edges, reached, strict=True) if count >= rank)
