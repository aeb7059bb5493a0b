"""How lights are followed to a frame, and to some frames at once, unless one may not go there."""

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.engine.changes import Turn
from streamer.engine.difference import EVERY, Chosen
from streamer.engine.flashes import FlashWatch, swing_of
from streamer.engine.total_watch import TotalWatch

OCTETS = 256


class Watches(NamedTuple):
    """Those of single nodes, single channels and the display as a whole."""

    nodes: FlashWatch
    channels: FlashWatch
    whole: TotalWatch


class Step(NamedTuple):
    """A frame that lights are to go on to."""

    lights: int
    """How many it has."""
    channels: Bytes
    totals: Sequence[int]
    """Of each component over all lights of the frame."""
    peak: int
    """The highest octet of the frame."""
    now_s: float
    seen_s: float


class Course(Protocol):
    """Frames to come after the one that is shown."""

    lights_in_all: int
    has_changed: list[bool]
    """Whether each frame differs from the one before it."""
    peaks: list[int]
    """The highest octet of each."""
    channels: list[Bytes]
    """Of each."""


def follow(watches: Watches, step: Step, lights: Chosen, values: Bytes) -> bool:
    """Follow these of the watched nodes, which take on `values`, (lights, 4), and all else to a frame.

    Say whether all may go there; if one may not, none is followed.
    """
    swing = swing_of(step.peak)
    if step.peak and not watches.nodes.allows(lights, values, swing, step.now_s):
        return False
    if not _follow_the_rest(watches, step):
        return False
    watches.nodes.follow(lights, values, swing, step.seen_s)
    return True


def _follow_the_rest(watches: Watches, step: Step) -> bool:
    """Follow channels and whole to a frame, unless they may not go there; say whether they may."""
    lights, octets, totals, peak, now_s, seen_s = step
    swing, total_swing = _swings(peak, lights)
    channels = octets[:, None] if octets.size else None
    if peak and not (
        (channels is None or watches.channels.allows(EVERY, channels, swing, now_s))
        and watches.whole.allows(totals, total_swing, now_s)
    ):
        return False
    if channels is not None:
        watches.channels.follow(EVERY, channels, swing, seen_s)
    watches.whole.follow(totals, total_swing, seen_s)
    return True


@lru_cache(OCTETS)
def _swings(peak: int, lights: int) -> tuple[int, int]:
    """Return the swing of one light and that of all together, where the highest octet is `peak`."""
    return swing_of(peak), max(lights, swing_of(peak * lights))


def follow_by_frame(
    watches: Watches, steps: Sequence[tuple[int, Step]], at: Callable[[int], tuple[Chosen, Bytes]]
) -> int | None:
    """Follow lights from frame to frame; return the number of the first that may not be shown, if any.

    `at` tells for the number of a frame which lights are followed to it, and what they show in it.
    """
    return next((number for number, step in steps if not follow(watches, step, *at(number))), None)


def follow_by_turn(
    watches: Watches,
    turns: Sequence[Turn],
    steps: Sequence[tuple[int, Step]],
    now_s: Sequence[float],
    seen_s: Sequence[float],
) -> bool:
    """Follow all lights from change to change, many frames at once; say whether all may be shown.

    Where each light changes in few frames that is a few calls in all; a light depends on no other. The peak
    is the same in all steps. If not all may be shown, the watches are of no use any more.
    """
    if not steps:
        return True
    moments_s, late_s, swing = np.array(now_s), np.array(seen_s), swing_of(steps[0][1].peak)
    for rows, values, frames in turns:
        if not watches.nodes.allows(rows, values, swing, moments_s[frames]):
            return False
        watches.nodes.follow(rows, values, swing, late_s[frames])
    return all(_follow_the_rest(watches, step) for step in _others(steps))


def steps_of(
    course: Course, sums: NDArray[np.int64], now_s: Sequence[float], seen_s: Sequence[float]
) -> list[tuple[int, Step]]:
    """Return the number of each frame that is another than the one before, and the step to it."""
    of_each = zip(course.channels, sums.tolist(), course.peaks, now_s, seen_s, strict=True)
    return [
        (number, Step(course.lights_in_all, *each))
        for number, each in enumerate(of_each)
        if course.has_changed[number]
    ]


def _others(steps: Sequence[tuple[int, Step]]) -> Iterator[Step]:
    """Yield the steps that channels or the whole can tell from the one before, where the peak is steady."""
    totals: Sequence[int] = ()
    for _, step in steps:
        if step.channels.size or step.totals != totals:
            totals = step.totals
            yield step
