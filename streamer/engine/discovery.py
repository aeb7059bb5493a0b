"""Universe discovery: says on the network which universes a source sends. Time is an argument."""

import math
from collections.abc import Callable
from uuid import UUID

from streamer.wire import e131

SendToGroups = Callable[[bytes, int], object]
"""Given a packet and a universe, sends it to the universe's groups."""


class Discovery:
    """Sends every page once in 10 s, to the groups of universe 64214 (ANSI E1.31-2018 clauses 4.3 and 8).

    A list that changes between is sent at once, but only once in those 10 s. Nothing is sent before the
    first tick, nor while nothing ticks.
    """

    def __init__(self) -> None:
        self._due_s = -math.inf
        self._universes: frozenset[int] = frozenset()
        self._told: list[int] = []
        self._may_tell_change = False

    @property
    def wake_s(self) -> float:
        """The moment at which the next set is due."""
        return self._due_s

    def tick(
        self, universes: frozenset[int], cid: UUID, source_name: str, send: SendToGroups, now_s: float
    ) -> None:
        """Send what is due at `now_s`: these E1.31 universes, of levels and of synchronization, sorted."""
        is_due = now_s >= self._due_s
        if not is_due and (universes is self._universes or not self._may_tell_change):
            return
        self._universes = universes
        listed = sorted(universes)
        if not is_due and listed == self._told:
            return
        self._may_tell_change = is_due
        if is_due:
            self._due_s = self._next_after(now_s)
        self._told = listed
        for page in e131.discovery_pages(cid, source_name, listed):
            send(page.encode(), e131.DISCOVERY_UNIVERSE)

    def _next_after(self, now_s: float) -> float:
        """Keep to the grid of the sets before; a new source, or one long silent, begins it anew."""
        is_silent = now_s - self._due_s >= e131.DISCOVERY_INTERVAL_S
        return (now_s if is_silent else self._due_s) + e131.DISCOVERY_INTERVAL_S
