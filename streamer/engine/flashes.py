"""Follows lights from trough to crest and back, and knows when each flashed last. Time is an argument.

Falling is rising in a mirror: a component that is up is followed with all its bits inverted, and so its
highest value as the lowest. One rule serves both ways, without a branch for each component of each light.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.engine.difference import EVERY, Chosen, picked, put_back
from streamer.engine.marks import Mask, Moments, any_component, copied, marked_among, moments_of
from streamer.engine.total_watch import flashes_kept
from streamer.flash_rule import FLASHES_PER_S, WINDOW_S

SWING_PARTS = 10
"""WCAG's definition of a general flash: 10 % of the maximum."""

BLOCK_LIGHTS = 2**14
"""Of all lights, so many are followed at a time: what is reckoned meanwhile stays in the cache then."""

_Written = tuple[NDArray[Any], Chosen, NDArray[Any]]
"""An array, its rows that were written over, and what they were."""


def swing_of(peak: int) -> int:
    """Return by how much a light rises at the least in a flash, where the brightest value is `peak`."""
    return max(1, -(-peak // SWING_PARTS))


class FlashWatch:
    """Follows so many lights of some components each, all unlit at first: (lights, components).

    Each may flash `most_per_s` times in any second, 1 or more.

    A flash is counted when a component has risen by `swing` from its trough, and dated when that rise
    last went on: later than any stricter way of dating it would. `swing` is 1 or more, and may differ from
    frame to frame.
    """

    def __init__(self, lights: int, components: int, most_per_s: int = FLASHES_PER_S) -> None:
        self._most_per_s = most_per_s
        self._mirror: Bytes = np.zeros((lights, components), np.uint8)
        """All bits of a component are set while it is up."""
        self._lowest: Bytes = np.zeros((lights, components), np.uint8)
        """In the mirror, since a component last turned."""
        self._flashes_s = [np.full(lights, -np.inf) for _ in range(flashes_kept(most_per_s))]
        """When each light flashed, the last time last."""
        self._spent_s = -np.inf
        """No light has flashed as often as it may since later than this: a second after it, all may."""
        self._log: list[_Written] | None = None
        """What was written over since `keep_log`, if it is kept."""
        self._spent_before_s = -np.inf

    def keep_log(self) -> None:
        """Take note from now on of what is followed, so that it can be taken back."""
        self._log, self._spent_before_s = [], self._spent_s

    def drop_log(self) -> None:
        """Let what has been followed since `keep_log` stand."""
        self._log = None

    def take_back(self) -> None:
        """Be as if nothing had been followed since `keep_log`."""
        for array, rows, values in reversed(self._log or ()):
            put_back(array, rows, values)
        self._log, self._spent_s = None, self._spent_before_s

    def limit(self, most_per_s: int) -> None:
        """Allow so many from now on, no more than `FLASHES_PER_S`; what has flashed counts."""
        self._most_per_s = most_per_s
        self._spent_s = float(self._flashes_s[-most_per_s].max(initial=-np.inf))

    def allows(self, rows: Chosen, values: Bytes, swing: int, now_s: Moments) -> bool:
        """Say whether these lights may take on these values at `now_s`."""
        if float(now_s if isinstance(now_s, float) else now_s.min()) - self._spent_s >= WINDOW_S:
            return True
        mirror = picked(self._mirror, rows)
        lowest = np.minimum(picked(self._lowest, rows), values ^ mirror)
        rises = any_component(_turns(values ^ mirror, lowest, swing) & (mirror == 0))
        before_s = self._flashes_s[-self._most_per_s][marked_among(rows, rises)]
        return not (moments_of(now_s, rises) - before_s < WINDOW_S).any()

    def follow(self, rows: Chosen, values: Bytes, swing: int, now_s: Moments) -> None:
        """Take note that these lights take on these values at `now_s`."""
        if isinstance(rows, slice) and isinstance(now_s, float):
            for first in range(0, len(values), BLOCK_LIGHTS):
                block = slice(first, min(first + BLOCK_LIGHTS, len(values)))
                self._follow(block, values[block], swing, now_s)
        else:
            self._follow(rows, values, swing, now_s)

    def _follow(self, rows: Chosen, values: Bytes, swing: int, now_s: Moments) -> None:
        mirror, before = picked(self._mirror, rows), picked(self._lowest, rows)
        seen = values ^ mirror
        lowest = np.minimum(before, seen)
        # Where it is up, the mirror has every bit: what is left is a lowest that went lower still.
        climbs_on = (lowest ^ before) & mirror
        turns = _turns(seen, lowest, swing)
        if np.count_nonzero(turns):
            self._date_flashes(rows, any_component(turns & (mirror == 0)), now_s)
            # Where it turns, what it is at now is its lowest on the other side of the mirror.
            flipped = np.negative(turns.astype(np.uint8))
            lowest ^= (lowest ^ ~seen) & flipped
            self._write(self._mirror, rows, mirror ^ flipped, mirror)
        self._write(self._lowest, rows, lowest, before)
        if np.count_nonzero(climbs_on):
            climbers = any_component(climbs_on)
            climbing_s = moments_of(now_s, climbers)
            self._date(rows, climbers, climbing_s)
            if self._most_per_s == 1:
                self._spent_s = max(self._spent_s, float(np.max(climbing_s)))

    def would_turn(self, values: Bytes, swing: int) -> Mask:
        """Say which lights a smaller `swing` would let turn where they are, at these values."""
        return any_component(_turns(values ^ self._mirror, self._lowest, swing))

    def part(self, lights: Chosen) -> "FlashWatch":
        """Return a watch of these lights alone, which goes on from here."""
        part = FlashWatch.__new__(FlashWatch)
        vars(part).update(
            vars(self),
            _mirror=copied(self._mirror, lights),
            _lowest=copied(self._lowest, lights),
            _flashes_s=[copied(moments_s, lights) for moments_s in self._flashes_s],
            _log=None,
        )
        return part

    def copy(self) -> "FlashWatch":
        """Return another that has seen the same."""
        return self.part(EVERY)

    def go_on_from(self, before: "FlashWatch", there: Chosen, here: Chosen) -> None:
        """Remember of lights `here` what `before` saw of them as its lights `there`."""
        put_back(self._mirror, here, picked(before._mirror, there))  # noqa: SLF001  another of our own
        put_back(self._lowest, here, picked(before._lowest, there))  # noqa: SLF001
        # One that allowed more than is safe knows more, but those that we keep are all that count.
        newest_first = zip(self._flashes_s[::-1], before._flashes_s[::-1], strict=False)  # noqa: SLF001
        for ours, theirs in newest_first:
            put_back(ours, here, picked(theirs, there))
        if before._most_per_s == self._most_per_s:  # noqa: SLF001
            self._spent_s = max(self._spent_s, before._spent_s)  # noqa: SLF001
        else:
            self.limit(self._most_per_s)

    def _date_flashes(self, rows: Chosen, flashed: Mask, now_s: Moments) -> None:
        these = marked_among(rows, flashed)
        known = [moments_s.take(these) for moments_s in self._flashes_s]
        newest = np.broadcast_to(moments_of(now_s, flashed), these.shape)
        for moments_s, before, later in zip(self._flashes_s, known, [*known[1:], newest], strict=True):
            self._write(moments_s, these, later, before)
        oldest_s = self._flashes_s[-self._most_per_s].take(these)
        self._spent_s = max(self._spent_s, float(np.maximum.reduce(oldest_s, initial=-np.inf)))

    def _date(self, rows: Chosen, marked: Mask, now_s: Moments) -> None:
        """Write when it was last for those of the chosen rows that are marked."""
        newest_s = self._flashes_s[-1]
        if isinstance(rows, slice) and isinstance(now_s, float) and np.count_nonzero(marked) == len(marked):
            # By their numbers it takes ten times as long.
            self._write(newest_s, rows, now_s, newest_s[rows])
        else:
            these = marked_among(rows, marked)
            self._write(newest_s, these, now_s, newest_s.take(these))

    def _write(
        self, array: NDArray[Any], rows: Chosen, values: NDArray[Any] | float, before: NDArray[Any]
    ) -> None:
        """Write values over those of before."""
        if self._log is not None:
            self._log.append((array, rows, before.copy() if isinstance(rows, slice) else before))
        put_back(array, rows, values)


def _turns(seen: Bytes, lowest: Bytes, swing: int) -> Mask:
    """Say where the values have risen by `swing` from their lowest, which is no higher than they are."""
    turns: Mask = seen - lowest >= swing
    return turns
