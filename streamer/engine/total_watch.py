"""The whole display as one light, followed from trough to crest and back by the rule of every light."""

import math
from collections.abc import Sequence

from streamer.flash_rule import FLASHES_PER_S, WINDOW_S


class TotalWatch:
    """Follows one light by the same rule, in plain numbers of any size: components that add up many lights.

    A call of NumPy costs as much as all of it.
    """

    def __init__(self, components: int, most_per_s: int = FLASHES_PER_S) -> None:
        self._most_per_s = most_per_s
        self._settled: tuple[Sequence[int], int] | None = None
        """The values and the swing followed last: once more, and nothing would be other than it is."""
        self._is_up = [False] * components
        self._lowest = [0] * components
        self._flashes_s = [-math.inf] * flashes_kept(most_per_s)

    def limit(self, most_per_s: int) -> None:
        """Allow so many from now on, no more than `FLASHES_PER_S`; what has flashed counts."""
        self._most_per_s = most_per_s

    def allows(self, values: Sequence[int], swing: int, now_s: float) -> bool:
        """Say whether it may take on these values at `now_s`."""
        if self._settled == (values, swing) or now_s - self._flashes_s[-self._most_per_s] >= WINDOW_S:
            return True
        components = zip(values, self._is_up, self._lowest, strict=True)
        return not any(
            not is_up and value - min(lowest, value) >= swing for value, is_up, lowest in components
        )

    def follow(self, values: Sequence[int], swing: int, now_s: float) -> None:
        """Take note that it takes on these values at `now_s`; they are not changed afterwards."""
        if self._settled == (values, swing):
            return
        self._settled = values, swing
        has_risen = climbs_on = False
        for component, value in enumerate(values):
            is_up, before = self._is_up[component], self._lowest[component]
            seen = ~value if is_up else value
            lowest = min(before, seen)
            climbs_on |= is_up and lowest < before
            if seen - lowest >= swing:
                has_risen |= not is_up
                self._is_up[component], lowest = not is_up, ~seen
            self._lowest[component] = lowest
        if has_risen:
            self._flashes_s.pop(0)
            self._flashes_s.append(now_s)
        elif climbs_on:
            self._flashes_s[-1] = now_s

    def copy(self) -> "TotalWatch":
        """Return another that has seen the same."""
        other = TotalWatch(len(self._is_up), self._most_per_s)
        other.go_on_from(self)
        return other

    def go_on_from(self, before: "TotalWatch") -> None:
        """Remember what `before` saw."""
        self._is_up, self._lowest = before._is_up.copy(), before._lowest.copy()  # noqa: SLF001  another of our own
        known = before._flashes_s[-len(self._flashes_s) :]  # noqa: SLF001
        self._flashes_s[-len(known) :] = known
        self._settled = before._settled  # noqa: SLF001


def flashes_kept(most_per_s: int) -> int:
    """Return how many flashes are remembered: lowering the limit, and raising it again, forgets none."""
    return max(most_per_s, FLASHES_PER_S)
