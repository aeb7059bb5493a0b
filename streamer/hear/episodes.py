"""Conflicts over time: since when, and until when, another source sent one of our universes. Pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from streamer.hear.conflicts import Conflict, ConflictKey
from streamer.hear.notes import source_text

EPISODES_MAX = 256
"""Kept; of more, the oldest that are over are forgotten, and counted."""


@dataclass(frozen=True, slots=True)
class Episode:
    """One other source on one of our universes; times in seconds on the caller's clock."""

    conflict: Conflict
    """As it was heard last."""
    since_s: float
    until_s: float | None = None
    """None while it lasts."""

    def as_dict(self, began_s: float = 0.0) -> dict[str, object]:
        """Return what a script wants to know, with times since `began_s`."""
        universe, source = self.conflict.universe, self.conflict.source
        return {
            "protocol": universe.protocol.value,
            "universe": universe.universe,
            "text": universe.text,
            "name": source.name,
            "cid": source.cid,
            "address": source.address,
            "priority": source.priority,
            "our_priority": self.conflict.our_priority if source.priority is not None else None,
            "winner": self.conflict.winner.value,
            "since_s": round(self.since_s - began_s, 3),
            "until_s": None if self.until_s is None else round(self.until_s - began_s, 3),
        }


class Episodes:
    """What became of conflicts. `note` what is heard, each time it is heard."""

    def __init__(self) -> None:
        self._lasting: dict[ConflictKey, Episode] = {}
        self._over: list[Episode] = []
        self.forgotten = 0

    @property
    def lasting(self) -> tuple[Conflict, ...]:
        """Return those that last."""
        return tuple(each.conflict for each in self._lasting.values())

    def all(self) -> tuple[Episode, ...]:
        """Return all that are remembered, by their beginning."""
        return tuple(sorted((*self._over, *self._lasting.values()), key=lambda each: each.since_s))

    def note(self, found: Iterable[Conflict], now: float) -> tuple[tuple[Conflict, ...], tuple[Episode, ...]]:
        """Take in the conflicts of this moment; return those that are new, and the episodes that are over."""
        there = {conflict.key: conflict for conflict in found}
        over = tuple(
            Episode(each.conflict, each.since_s, now)
            for key, each in self._lasting.items()
            if key not in there
        )
        new = tuple(conflict for key, conflict in there.items() if key not in self._lasting)
        self._lasting = {
            key: Episode(conflict, self._lasting[key].since_s if key in self._lasting else now)
            for key, conflict in there.items()
        }
        self._remember(over)
        return new, over

    def _remember(self, over: Iterable[Episode]) -> None:
        self._over += over
        more = len(self._over) - EPISODES_MAX
        if more > 0:
            del self._over[:more]
            self.forgotten += more


def ends(over: Iterable[Episode], lasting: Iterable[Conflict]) -> Iterator[str]:
    """Yield a sentence for each source that has gone from universes of ours.

    One that goes on there, with another winner, has not gone.
    """
    still = {conflict.whose for conflict in lasting}
    gone: dict[tuple[str, str], list[Episode]] = {}
    for episode in over:
        source = episode.conflict.source
        if episode.conflict.whose not in still:
            gone.setdefault((source.cid, source.address), []).append(episode)
    for episodes in gone.values():
        first = episodes[0]
        more = f" and {len(episodes) - 1} more of ours" if len(episodes) > 1 else ""
        seconds = (first.until_s or first.since_s) - first.since_s
        who = source_text(first.conflict.source)
        yield f"{who} no longer sends {first.conflict.universe.text}{more}, after {seconds:.0f} s."
