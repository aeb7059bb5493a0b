"""The flash guard: no light flashes more than three times in any second, whatever is asked.

WCAG 2.x success criterion 2.3.1 allows no more than three general flashes in any one second, a flash being
a pair of opposing changes of a tenth of the maximum. That maximum is a screen's; a light has none, and blue
and dim red would slip under it, so every rise of any component by a tenth of the brightest value in the
frame counts. Each light is watched, and the display as a whole, so that neither one string nor many in
turn can flash. Time is an argument.
"""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.engine.difference import EVERY, NONE, Chosen, differing_nodes, picked
from streamer.engine.flashes import FlashWatch, Values

SWING_PARTS = 10
"""WCAG's definition of a general flash: 10 % of the maximum."""
BLOCK = 256
"""So many octets add up to less than 2 ** 16."""

Watched = tuple[FlashWatch, Chosen, Values, int]
"""A watch, its lights that change, what they change to, and the least swing that is one."""


class FlashGuard:
    """Watches the frames about to be shown, and says which may be."""

    def __init__(self, nodes: int, channels: int) -> None:
        self._shown = Frame(np.zeros((nodes, COMPONENTS), np.uint8), np.zeros(channels, np.uint8))
        self._nodes = FlashWatch(nodes, COMPONENTS)
        self._channels = FlashWatch(channels, 1)
        self._whole = FlashWatch(1, COMPONENTS, np.int64)
        self._sums = np.zeros(COMPONENTS, np.int64)
        """Of each component over all nodes, kept up with what changes."""
        self.held = 0
        self.altered: Chosen = EVERY
        """The only nodes in which the frame returned last may differ from the one before."""

    def admit(self, frame: Frame, now_s: float) -> Frame:
        """Return `frame`, or the one shown last if this one would flash too often; `held` counts those.

        What is returned belongs to the guard, and is the same object for as long as nothing changes. Dark
        is always let through. Nothing is held for longer than a second: by then the flashes that speak
        against it are past.
        """
        lights = differing_nodes(frame.nodes, self._shown.nodes)
        channels = np.flatnonzero(frame.channels != self._shown.channels)
        self.altered = NONE
        if isinstance(lights, np.ndarray) and not len(lights) and not len(channels):
            return self._shown
        lit = picked(frame.nodes, lights)
        sums = _sums(lit)
        if isinstance(lights, np.ndarray):
            sums += self._sums - _sums(picked(self._shown.nodes, lights))
        peak = max(int(frame.nodes.max(initial=0)), int(frame.channels.max(initial=0)))
        swing = _tenth(peak)
        watched: list[Watched] = [
            (self._nodes, lights, lit, swing),
            (self._whole, EVERY, sums[None], max(len(frame.nodes), _tenth(peak * len(frame.nodes)))),
        ]
        if len(channels):
            watched.append((self._channels, channels, frame.channels[channels, None], swing))
        if peak and not all(watch.allows(rows, now, least, now_s) for watch, rows, now, least in watched):
            self.held += 1
            return self._shown
        for watch, rows, now, least in watched:
            watch.follow(rows, now, least, now_s)
        self._sums, self.altered = sums, lights
        self._shown = Frame(frame.nodes.copy(), frame.channels.copy())
        return self._shown

    def go_on_from(
        self, before: "FlashGuard", ours_before: NDArray[np.bool_], ours: NDArray[np.bool_]
    ) -> None:
        """Remember what `before` saw of the nodes marked in both; a change of patch hides no flash."""
        self._nodes.go_on_from(before._nodes, ours_before, ours)  # noqa: SLF001  another of our own
        self._channels.go_on_from(before._channels, EVERY, EVERY)  # noqa: SLF001
        self.go_on_as_a_whole_from(before)
        self._shown.nodes[ours] = before._shown.nodes[ours_before]  # noqa: SLF001
        self._shown.channels[:] = before._shown.channels  # noqa: SLF001
        self._sums = _sums(self._shown.nodes)

    def go_on_as_a_whole_from(self, before: "FlashGuard") -> None:
        """Remember what `before` saw of the display as a whole, whose lights are others now."""
        self._whole.go_on_from(before._whole, EVERY, EVERY)  # noqa: SLF001


def _tenth(total: int) -> int:
    """Return a tenth, rounded up, and not less than 1."""
    return max(1, -(-total // SWING_PARTS))


def _sums(nodes: Bytes) -> NDArray[np.int64]:
    """Return the sum of each component, (4,): most of it in short numbers, many at a time."""
    in_blocks = len(nodes) // BLOCK * BLOCK
    blocks = nodes[:in_blocks].reshape(BLOCK, -1).sum(axis=0, dtype=np.uint16)
    sums = blocks.reshape(-1, COMPONENTS).sum(axis=0, dtype=np.int64)
    return np.asarray(sums + nodes[in_blocks:].sum(axis=0, dtype=np.int64))
