"""Holds the currents of feeds and supplies under their limits by dimming the strings that feed on them.

It works on the frame about to be sent, so that no pattern and no hand gets round it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from patterns.plain import COMPONENTS, Bytes
from streamer.display.electrics import Injection
from streamer.display.model import Display, Port
from streamer.power.basis import Floats, basis_of
from streamer.power.feed_currents import FeedCurrents
from streamer.power.margins import fuse_limit_a, supply_limit_a
from streamer.power.network import FULL

SCALE_BITS = 16
ALL = 1 << SCALE_BITS
"""Strings are dimmed by whole parts of this, rounded down as the octets are: never over a limit."""
ROUNDING = 1e-6
"""Sums are this exact, of a part; what is let through stays that much lower."""
PERCENT = 100


@dataclass(frozen=True, slots=True)
class Dimming:
    """A limit that dims the frame."""

    name: str
    """Of the feed ("jetty/1", "jetty/1 after node 50") or of the supply."""
    is_supply: bool
    asked_a: float
    limit_a: float
    percent: float
    """To which part of the light that was asked for; 0 where idle nodes alone draw more than the limit."""


@dataclass(frozen=True, slots=True)
class _Limits:
    """Some limits, and how the last frame stood to them."""

    names: tuple[str, ...]
    limit_a: Floats
    idle_a: Floats
    dimmable_a: Floats

    @property
    def parts(self) -> Floats:
        """How far each lets what can be dimmed shine, from 0 to 1."""
        room = np.clip((self.limit_a - self.idle_a) * (1 - ROUNDING), 0, None)
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.dimmable_a > room, room / self.dimmable_a, 1.0)

    def dimmings(self, *, is_supply: bool) -> Iterator[Dimming]:
        parts = self.parts
        for row in np.flatnonzero(parts < 1).tolist():
            asked_a = float(self.idle_a[row] + self.dimmable_a[row])
            limit_a = float(self.limit_a[row])
            yield Dimming(self.names[row], is_supply, asked_a, limit_a, float(parts[row]) * PERCENT)


class CurrentLimiter:
    """Holds the frames of a checked display: (N, 4) octets, its ports in order."""

    def __init__(self, display: Display) -> None:
        self.is_dimming = False
        """Whether the last frame was dimmed."""
        self.safe_octet = FULL
        """The highest that every component of every node may be without any limit reached."""
        if not any(_is_limited(port) for port in display.ports):
            return
        self._lengths = np.array([port.nodes for port in display.ports], np.intp)
        self._scaled = np.empty((int(self._lengths.sum()), COMPONENTS), np.uint32)
        self._currents = FeedCurrents(tuple(basis_of(display, port) for port in display.ports))
        feeds = self._currents.feeds
        self._feed_names = tuple(feed.name for feed in feeds)
        self._feed_limit_a = np.array([fuse_limit_a(feed.fuse_a) for feed in feeds])
        self._supply_names = tuple(supply.name for supply in display.supplies)
        row_of = {name: row for row, name in enumerate(self._supply_names)}
        # One row more stands for the supplies that are not described, and has no limit.
        self._supply_of_feed = np.array([row_of.get(feed.supply or "", len(row_of)) for feed in feeds])
        self._supply_limit_a = np.array([*map(supply_limit_a, display.supplies), np.inf])
        self._fed, self._supplied = self._stand(self._currents.full_a, is_fused=False)
        self.safe_octet = int(FULL * min(self._fed.parts.min(), self._supplied.parts.min()))

    def allows(self, nodes: Bytes) -> bool:
        """Whether all nodes, of one frame or of many, are too dim to reach any limit, wherever they are."""
        return self.safe_octet == FULL or int(nodes.max(initial=0)) <= self.safe_octet

    def limit(self, nodes: Bytes) -> Bytes:
        """Return the nodes as they may be sent: the same array where nothing is over its limit."""
        self.is_dimming = False
        if self.allows(nodes):
            return nodes
        self._fed, self._supplied = self._stand(self._currents.dimmable_a(nodes), is_fused=True)
        parts = self._by_port(self._fed.parts)
        parts *= self._by_port(self._supplied.parts[self._supply_of_feed])
        scale = np.floor(parts * ALL).astype(np.uint32)
        if (scale == ALL).all():
            return nodes
        self.is_dimming = True
        # A new array of this size for every frame would cost as much as the reckoning.
        np.multiply(nodes, np.repeat(scale, self._lengths)[:, None], out=self._scaled)
        self._scaled >>= SCALE_BITS
        return self._scaled.astype(np.uint8)

    @property
    def dimmings(self) -> tuple[Dimming, ...]:
        """What dims the last frame, the strictest first."""
        if not self.is_dimming:
            return ()
        found = [*self._fed.dimmings(is_supply=False), *self._supplied.dimmings(is_supply=True)]
        return tuple(sorted(found, key=lambda dimming: dimming.percent))

    def _stand(self, dimmable_a: Floats, *, is_fused: bool) -> tuple[_Limits, _Limits]:
        """Return how feeds and supplies stand to their limits, supplies after feeds have been held."""
        fed = _Limits(self._feed_names, self._feed_limit_a, self._currents.idle_a, dimmable_a)
        if is_fused:
            dimmable_a = dimmable_a * self._by_port(fed.parts)[self._currents.port_of_feed]
        supplied = _Limits(
            self._supply_names,
            self._supply_limit_a,
            self._by_supply(self._currents.idle_a),
            self._by_supply(dimmable_a),
        )
        return fed, supplied

    def _by_supply(self, feed_a: Floats) -> Floats:
        return np.bincount(self._supply_of_feed, feed_a, len(self._supply_limit_a)).astype(np.float64)

    def _by_port(self, parts: Floats) -> Floats:
        least = np.ones(len(self._lengths))
        np.minimum.at(least, self._currents.port_of_feed, parts)
        return least


def _is_limited(port: Port) -> bool:
    feeds: tuple[Port | Injection, ...] = (port, *port.injections)
    return any(feed.supply is not None or feed.fuse_a is not None for feed in feeds)
