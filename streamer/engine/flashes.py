"""Follows lights from trough to crest and back, and knows when each flashed last. Time is an argument."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

FLASHES_PER_S = 3
WINDOW_S = 1.0
"""WCAG 2.x success criterion 2.3.1: no more than three flashes in any one-second period."""

EVERY = slice(None)
Chosen = NDArray[Any] | slice
Values = NDArray[np.uint8] | NDArray[np.float64]


class FlashWatch:
    """Follows so many lights of some components each, `dark` being all of them unlit: (lights, components).

    A flash is counted when a component has risen by `swing` from its trough, and dated when that rise
    last went on: later than any stricter way of dating it would. `swing` may differ from frame to frame;
    for octets a whole number keeps it fast.
    """

    def __init__(self, dark: Values) -> None:
        self._is_up = np.zeros(dark.shape, np.bool_)
        self._turning = dark
        """The highest value since a component began to rise, or the lowest since it began to fall."""
        self._flashes_s = [np.full(len(dark), -np.inf) for _ in range(FLASHES_PER_S)]
        """When each light flashed, the last time last."""

    def allows(self, rows: Chosen, values: Values, swing: float, now_s: float) -> bool:
        """Say whether these lights may take on these values at `now_s`."""
        rises = _any_component(self._climbs(rows, values, swing))
        return not (rises & (now_s - self._flashes_s[0][rows] < WINDOW_S)).any()

    def follow(self, rows: Chosen, values: Values, swing: float, now_s: float) -> None:
        """Take note that these lights take on these values at `now_s`."""
        climbs = self._climbs(rows, values, swing)
        is_up, turning = self._is_up[rows], self._turning[rows]
        highest = np.maximum(turning, values)
        falls = is_up & (highest - values >= swing)
        climbs_on = is_up & (values > turning)
        further = np.where(is_up, highest, np.minimum(turning, values))
        self._turning[rows] = np.where(falls | climbs, values, further)
        self._is_up[rows] = (is_up ^ falls) | climbs
        self._date(rows, _any_component(climbs), _any_component(climbs_on), now_s)

    def go_on_from(self, before: "FlashWatch", there: Chosen, here: Chosen) -> None:
        """Remember of lights `here` what `before` saw of them as its lights `there`."""
        self._is_up[here] = before._is_up[there]  # noqa: SLF001  another of our own
        self._turning[here] = before._turning[there]  # noqa: SLF001
        for ours, theirs in zip(self._flashes_s, before._flashes_s, strict=True):  # noqa: SLF001
            ours[here] = theirs[there]

    def _climbs(self, rows: Chosen, values: Values, swing: float) -> NDArray[np.bool_]:
        # Octets must not wrap, so the lower is taken from the higher.
        turning = self._turning[rows]
        climbs: NDArray[np.bool_] = ~self._is_up[rows] & (np.maximum(turning, values) - turning >= swing)
        return climbs

    def _date(
        self, rows: Chosen, flashed: NDArray[np.bool_], climbing_on: NDArray[np.bool_], now_s: float
    ) -> None:
        for earlier, later in zip(self._flashes_s, self._flashes_s[1:], strict=False):
            earlier[rows] = np.where(flashed, later[rows], earlier[rows])
        latest = self._flashes_s[-1]
        latest[rows] = np.where(flashed | climbing_on, now_s, latest[rows])


def _any_component(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return for each light whether any component is marked; `any` along a short axis is slow."""
    of_any = mask[:, 0]
    for component in range(1, mask.shape[1]):
        of_any = of_any | mask[:, component]
    return of_any
