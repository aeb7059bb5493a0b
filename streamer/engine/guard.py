"""The flash guard: no light flashes more than three times in any second, whatever is asked.

WCAG 2.x success criterion 2.3.1 allows no more than three general flashes in any one second. Its
threshold is a share of a screen's maximum luminance; a light has no such maximum, and blue and dim red
would slip under it, so every rise of any component by a tenth of full counts. Each node is watched, and
the display as a whole, so that neither one string nor many in turn can flash. Time is an argument.
"""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes, Frame

Chosen = NDArray[np.bool_] | slice

FLASHES_PER_S = 3
WINDOW_S = 1.0
SWING = 26
"""A tenth of 255, rounded up: a change of this much, and back, is a flash."""
SWING_SHARE_OF_PEAK = 0.5
"""At low levels full contrast is less than a tenth of full: half of the brightest value counts as well."""


class FlashGuard:
    """Watches the frames about to be shown, and says which may be."""

    def __init__(self, nodes: int, channels: int) -> None:
        self._shown = Frame(np.zeros((nodes, 4), np.uint8), np.zeros(channels, np.uint8))
        self._nodes = _Watch(nodes, 4)
        self._channels = _Watch(channels, 1)
        self._whole = _Watch(1, 4)
        self.held = 0

    def admit(self, frame: Frame, now_s: float) -> Frame:
        """Return `frame`, or the one shown last if this one would flash too often; `held` counts those."""
        changed = np.flatnonzero(_words(frame.nodes) != _words(self._shown.nodes))
        altered = np.flatnonzero(frame.channels != self._shown.channels)
        if not len(changed) and not len(altered):
            return frame
        whole = frame.nodes.mean(axis=0, keepdims=True).astype(np.uint8)
        watched = (
            (self._nodes, changed, frame.nodes[changed]),
            (self._channels, altered, frame.channels[altered, None]),
            (self._whole, np.zeros(1, np.intp), whole),
        )
        swing = _swing(frame)
        if frame_is_dark(frame) or all(w.allows(rows, values, swing, now_s) for w, rows, values in watched):
            for watch, rows, values in watched:
                watch.follow(rows, values, swing, now_s)
            self._shown = Frame(frame.nodes.copy(), frame.channels.copy())
            return frame
        self.held += 1
        return self._shown

    def go_on_from(
        self, before: "FlashGuard", ours_before: NDArray[np.bool_], ours: NDArray[np.bool_]
    ) -> None:
        """Remember what `before` saw of the lights marked in both, so that a change of plan hides no flash."""
        self._nodes.take_over(before._nodes, ours_before, ours)
        self._channels.take_over(before._channels, np.s_[:], np.s_[:])
        self._whole = before._whole
        self._shown.nodes[ours] = before._shown.nodes[ours_before]
        self._shown.channels[:] = before._shown.channels


def frame_is_dark(frame: Frame) -> bool:
    """Whether nothing is lit: going dark is always allowed."""
    return not frame.nodes.any() and not frame.channels.any()


def _words(nodes: Bytes) -> NDArray[np.uint32]:
    return np.ascontiguousarray(nodes).view(np.uint32)[:, 0]


def _swing(frame: Frame) -> int:
    peak = max(int(frame.nodes.max(initial=0)), int(frame.channels.max(initial=0)))
    return max(1, min(SWING, int(peak * SWING_SHARE_OF_PEAK)))


class _Watch:
    """Follows so many lights of so many components from trough to crest and back."""

    def __init__(self, lights: int, components: int) -> None:
        self._is_up = np.zeros((lights, components), np.bool_)
        self._turning = np.zeros((lights, components), np.int16)
        self._flashes_s = np.full((lights, FLASHES_PER_S), -np.inf)

    def allows(self, rows: NDArray[np.intp], values: Bytes, swing: int, now_s: float) -> bool:
        rising = self._rises(rows, values, swing)
        return not (rising & (now_s - self._flashes_s[rows, 0] < WINDOW_S)).any()

    def follow(self, rows: NDArray[np.intp], values: Bytes, swing: int, now_s: float) -> None:
        rising = rows[self._rises(rows, values, swing)]
        self._flashes_s[rising, :-1] = self._flashes_s[rising, 1:]
        self._flashes_s[rising, -1] = now_s
        is_up, turning, now = self._is_up[rows], self._turning[rows], values.astype(np.int16)
        falls = is_up & (turning - now >= swing)
        climbs = ~is_up & (now - turning >= swing)
        further = np.where(is_up, np.maximum(turning, now), np.minimum(turning, now))
        self._turning[rows] = np.where(falls | climbs, now, further)
        self._is_up[rows] = (is_up & ~falls) | climbs

    def take_over(self, before: "_Watch", there: Chosen, here: Chosen) -> None:
        self._is_up[here] = before._is_up[there]
        self._turning[here] = before._turning[there]
        self._flashes_s[here] = before._flashes_s[there]

    def _rises(self, rows: NDArray[np.intp], values: Bytes, swing: int) -> NDArray[np.bool_]:
        climbs = ~self._is_up[rows] & (values.astype(np.int16) - self._turning[rows] >= swing)
        return np.asarray(climbs.any(axis=1))
