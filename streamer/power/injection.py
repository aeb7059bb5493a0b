"""Where more feeds would keep every node of a string above its minimum: how many, and after which nodes."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from streamer.power.basis import Basis, Feed, Floats
from streamer.power.copper import Copper
from streamer.power.network import network_of
from streamer.power.solve import solve

POINTS_LIMIT = 6
"""More feeds than these on one string are a sign of wire that is too thin."""
NONE_SUFFICES = (
    f"even {POINTS_LIMIT} more feeds from its supply would not do it: take thicker leads, fewer nodes on the "
    "port, a nearer supply, nodes of more volts, or a lower level"
)
"""Said instead of points where none suffice."""
METHOD = (
    "points are spread evenly, then moved to and fro by half as far each time while that raises the lowest "
    "voltage; the fewest points that suffice are told, and none where none do"
)
HALF = 0.5
"""Beyond the last point lies half as much string as between two: it is fed from one side."""
WIDEST_STEP_SHARE = 4
"""The first moves are this part of a string's length."""


@dataclass(frozen=True, slots=True)
class InjectionAdvice:
    """More feeds for one string at full white."""

    after: tuple[int, ...]
    """Nodes counted from 1 at the end where data and power enter."""
    leads_m: tuple[float, ...]
    """How long each lead is taken to be: the port's own, and on along the string."""
    lead_wire: str
    lowest_volts: float
    """With them; where none suffice, the highest that any points that were tried would leave."""
    is_enough: bool
    """False where no points suffice: then none are told."""


def advise(basis: Basis, copper: Copper) -> InjectionAdvice | None:
    """Return where to inject; None where every node has its minimum already."""
    search = _Search(basis, copper)
    if search.lowest([()])[0] >= basis.kind.volts_min:
        return None
    best: tuple[int, ...] = ()
    lowest = -np.inf
    for count in range(1, min(POINTS_LIMIT, basis.port.nodes) + 1):
        points, found = search.best_of(count)
        if found > lowest:
            best, lowest = points, found
        if lowest >= basis.kind.volts_min:
            break
    wire, is_enough = basis.feeds[0].wire.text, lowest >= basis.kind.volts_min
    points = best if is_enough else ()
    leads_m = tuple(search.feed(point).lead_m for point in points)
    return InjectionAdvice(points, leads_m, wire, lowest, is_enough=is_enough)


class _Search:
    def __init__(self, basis: Basis, copper: Copper) -> None:
        self._basis = basis
        self._copper = copper
        self._along_m = np.cumsum(basis.spacings_m[basis.port.skip :]).tolist()

    def feed(self, after: int) -> Feed:
        """Return a feed from the supply that feeds this part of the string already."""
        cuts = [feed for feed in self._basis.feeds if feed.is_cut and feed.after < after]
        source = max(cuts, key=lambda feed: feed.after, default=self._basis.feeds[0])
        begins_m = self._along_m[source.after - 1] if source.after else 0.0
        lead_m = source.lead_m + self._along_m[after - 1] - begins_m
        name = f"{self._basis.port.name} after node {after}"
        return replace(source, name=name, after=after, fuse_a=None, lead_m=lead_m, is_cut=False)

    def lowest(self, choices: Iterable[tuple[int, ...]]) -> Floats:
        """Return the lowest voltage of each choice of points, all in one circuit."""
        bases = [
            replace(self._basis, feeds=(*self._basis.feeds, *map(self.feed, points))) for points in choices
        ]
        network = network_of(bases, self._copper)
        volts = solve(network, network.white_a(1.0)).volts
        return np.asarray(np.minimum.reduceat(volts, network.first_of_port[:-1]))

    def best_of(self, count: int) -> tuple[tuple[int, ...], float]:
        """Return so many points and the lowest voltage that they leave."""
        nodes = self._basis.port.nodes
        apart = nodes / (count + HALF)
        points = tuple(min(nodes, max(1, round(apart * (nth + 1)))) for nth in range(count))
        lowest = float(self.lowest([points])[0])
        step = max(1, nodes // WIDEST_STEP_SHARE)
        while step:
            moves = sorted(set(self._moves(points, step)))
            found = self.lowest(moves) if moves else np.zeros(0)
            if len(found) and found.max() > lowest:
                points, lowest = moves[int(found.argmax())], float(found.max())
            else:
                step //= 2
        return points, lowest

    def _moves(self, points: tuple[int, ...], step: int) -> Iterable[tuple[int, ...]]:
        for nth, point in enumerate(points):
            for moved in (point - step, point + step):
                if 1 <= moved <= self._basis.port.nodes and moved not in points:
                    yield tuple(sorted((*points[:nth], moved, *points[nth + 1 :])))
