"""How lights are followed to a frame, and to some frames at once, unless one may not go there."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame
from streamer.engine.difference import EVERY, Chosen, picked
from streamer.engine.flashes import FlashWatch, TotalWatch, swing_of
from streamer.engine.sequel import Sequel


class Watches(NamedTuple):
    """Those of single nodes, single channels and the display as a whole."""

    nodes: FlashWatch
    channels: FlashWatch
    whole: TotalWatch


class Step(NamedTuple):
    """A frame that lights are to go on to."""

    lights: Chosen
    """Of the nodes that are watched."""
    values: Bytes
    """What these lights take on, (lights, 4)."""
    frame: Frame
    totals: Sequence[int]
    """Of each component over all lights of the frame."""
    peak: int
    """The highest octet of the frame."""
    now_s: float
    seen_s: float


def follow(watches: Watches, step: Step) -> bool:
    """Follow the lights to a frame, unless one may not go there; say whether all may."""
    swing = swing_of(step.peak)
    if step.peak and not watches.nodes.allows(step.lights, step.values, swing, step.now_s):
        return False
    if not _follow_the_rest(watches, step.frame, step.totals, step.peak, step.now_s, step.seen_s):
        return False
    watches.nodes.follow(step.lights, step.values, swing, step.seen_s)
    return True


def _follow_the_rest(  # noqa: PLR0913, PLR0917  each is another side of the same frame
    watches: Watches, frame: Frame, totals: Sequence[int], peak: int, now_s: float, seen_s: float
) -> bool:
    """Follow channels and whole to a frame, unless they may not go there; say whether they may."""
    swing, total_swing = swing_of(peak), max(len(frame.nodes), swing_of(peak * len(frame.nodes)))
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


def follow_by_frame(  # noqa: PLR0913, PLR0917  each is another side of the same frames
    watches: Watches,
    sequel: Sequel,
    lights: Chosen,
    sums: NDArray[np.int64],
    now_s: Sequence[float],
    seen_s: Sequence[float],
) -> int:
    """Follow these lights from frame to frame; return how many frames may be shown."""
    values, totals = sequel.values(lights), sums.tolist()
    for number, frame in enumerate(sequel.frames):
        if not sequel.has_changed[number]:
            continue
        chosen = sequel.chosen(number, lights)
        shows, peak = picked(values[number], chosen), sequel.peaks[number]
        if not follow(
            watches, Step(chosen, shows, frame, totals[number], peak, now_s[number], seen_s[number])
        ):
            return number
    return len(sequel.frames)


def follow_by_turn(  # noqa: PLR0913, PLR0917  each is another side of the same frames
    watches: Watches,
    sequel: Sequel,
    lights: Chosen,
    sums: NDArray[np.int64],
    now_s: Sequence[float],
    seen_s: Sequence[float],
) -> bool:
    """Follow these lights from change to change, many frames at once; say whether all may be shown.

    Where each light changes in few frames that is a few calls in all; a light depends on no other. If not
    all may be shown, the watches are of no use any more.
    """
    moments_s, late_s, swing = np.array(now_s), np.array(seen_s), swing_of(sequel.steady_peak)
    for rows, values, frames in sequel.by_turn(lights):
        if not watches.nodes.allows(rows, values, swing, moments_s[frames]):
            return False
        watches.nodes.follow(rows, values, swing, late_s[frames])
    totals = sums.tolist()
    for number, frame in enumerate(sequel.frames):
        now, seen, peak = now_s[number], seen_s[number], sequel.peaks[number]
        if sequel.has_changed[number] and not _follow_the_rest(
            watches, frame, totals[number], peak, now, seen
        ):
            return False
    return True
