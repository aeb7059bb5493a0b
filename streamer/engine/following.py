"""How lights are followed to a frame, and to some frames at once, unless one may not go there."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.engine.difference import EVERY, Chosen, picked
from streamer.engine.flashes import FlashWatch, TotalWatch, swing_of
from streamer.engine.sequel import Sequel, Turn

OCTETS = 256


class Watches(NamedTuple):
    """Those of single nodes, single channels and the display as a whole."""

    nodes: FlashWatch
    channels: FlashWatch
    whole: TotalWatch


class Step(NamedTuple):
    """A frame that lights are to go on to."""

    frame: Frame
    totals: Sequence[int]
    """Of each component over all lights of the frame."""
    peak: int
    """The highest octet of the frame."""
    now_s: float
    seen_s: float


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
    frame, totals, peak, now_s, seen_s = step
    swing, total_swing = _swings(peak, len(frame.nodes))
    channels = frame.channels[:, None] if frame.channels.size else None
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


def follow_by_frame(  # noqa: PLR0913, PLR0917  each is another side of the same frames
    watches: Watches,
    sequel: Sequel,
    lights: Chosen,
    sums: NDArray[np.int64],
    now_s: Sequence[float],
    seen_s: Sequence[float],
) -> int:
    """Follow these lights from frame to frame; return how many frames may be shown."""
    values = sequel.values(lights)
    for number, step in _steps(sequel, sums, now_s, seen_s):
        chosen = sequel.chosen(number, lights)
        if not follow(watches, step, chosen, picked(values[number], chosen)):
            return number
    return len(sequel.frames)


def follow_by_turn(  # noqa: PLR0913, PLR0917  each is another side of the same frames
    watches: Watches,
    sequel: Sequel,
    turns: Sequence[Turn],
    sums: NDArray[np.int64],
    now_s: Sequence[float],
    seen_s: Sequence[float],
) -> bool:
    """Follow all lights from change to change, many frames at once; say whether all may be shown.

    Where each light changes in few frames that is a few calls in all; a light depends on no other. If not
    all may be shown, the watches are of no use any more.
    """
    moments_s, late_s, swing = np.array(now_s), np.array(seen_s), swing_of(sequel.steady_peak)
    for rows, values, frames in turns:
        if not watches.nodes.allows(rows, values, swing, moments_s[frames]):
            return False
        watches.nodes.follow(rows, values, swing, late_s[frames])
    return all(_follow_the_rest(watches, step) for step in _others(sequel, sums, now_s, seen_s))


def _steps(
    sequel: Sequel, sums: NDArray[np.int64], now_s: Sequence[float], seen_s: Sequence[float]
) -> Iterator[tuple[int, Step]]:
    """Yield the number of each frame that is another than the one before, and the step to it."""
    of_each = zip(sequel.frames, sums.tolist(), sequel.peaks, now_s, seen_s, strict=True)
    for number, each in enumerate(of_each):
        if sequel.has_changed[number]:
            yield number, Step(*each)


def _others(
    sequel: Sequel, sums: NDArray[np.int64], now_s: Sequence[float], seen_s: Sequence[float]
) -> Iterator[Step]:
    """Yield the steps that channels or the whole can tell from the one before, where the peak is steady."""
    totals: Sequence[int] = ()
    for _, step in _steps(sequel, sums, now_s, seen_s):
        if step.frame.channels.size or step.totals != totals:
            totals = step.totals
            yield step
