"""What is wrong with the ways out of a run: all that ever was, and what is so just now. Time is an argument.

Senders count refusals and never forget; here a complaint is over when packets go and it has not come again.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

from streamer.engine.outlet import Outlet

OVER_S = 5.0
"""Longer than a silent host takes to be reported again: Linux asks for it three times, a second apart."""
LOOK_EACH_S = 0.2
"""As often as it is told; a look costs as much as sending to two universes."""


class _Heard(NamedTuple):
    """When a complaint last came."""

    refused: int
    at_s: float
    accepted: int
    """Packets that the same sender had got away by then."""


class Complaints:
    """The complaints of an outlet."""

    def __init__(self, outlet: Outlet) -> None:
        self._carriers, self._senders = outlet.carriers, outlet.senders
        self._looked_s = -math.inf
        self._heard: dict[tuple[int, str], _Heard] = {}
        self._ever: dict[str, None] = {}
        self.now: tuple[str, ...] = ()
        """Sentences, each with what to do, as of the last `look`."""
        self.is_carrier_lost = self.was_carrier_lost = False
        """Whether an interface that packets leave by has nothing at its other end; or had at any time."""

    @property
    def ever(self) -> tuple[str, ...]:
        """Everything that was wrong since the start, in the order in which it came."""
        return tuple(self._ever)

    def tick(self, now_s: float) -> None:
        """Look if that is due."""
        if now_s - self._looked_s >= LOOK_EACH_S:
            self.look(now_s)

    def look(self, now_s: float) -> None:
        """Find out what is wrong at `now_s`."""
        self._looked_s = now_s
        carriers = list(filter(None, [watch.complaint for watch in self._carriers]))
        self.is_carrier_lost = bool(carriers)
        if not (carriers or self.now or any(sender.complaints for sender in self._senders)):
            return
        self.was_carrier_lost |= self.is_carrier_lost
        # A cable that is out explains all else.
        self.now = tuple(dict.fromkeys([*carriers, *self._refusals(now_s)]))
        self._ever |= dict.fromkeys(self.now)

    def _refusals(self, now_s: float) -> Iterator[str]:
        for number, sender in enumerate(self._senders):
            accepted = sender.counters.packets
            for sentence, refused in sender.complaints.items():
                heard = self._heard.get((number, sentence))
                if heard is None or heard.refused != refused:
                    heard = self._heard[number, sentence] = _Heard(refused, now_s, accepted)
                if now_s - heard.at_s < OVER_S or accepted == heard.accepted:
                    yield sentence
