"""Solves circuits by modified nodal analysis on a dense matrix: the independent check of the real solver.

It knows resistors, current sources and voltage sources between named points, and nothing of strings.
"""

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field

import numpy as np

from streamer.display.electrics import Wire
from streamer.power.basis import Basis

Point = Hashable


@dataclass
class Netlist:
    """A circuit; the point "ground" is at 0 V."""

    resistors: list[tuple[Point, Point, float]] = field(default_factory=list)
    sinks: list[tuple[Point, Point, float]] = field(default_factory=list)
    """So much current flows from the first point to the second, whatever the voltage."""
    sources: list[tuple[Point, Point, float]] = field(default_factory=list)
    """The first point is so many volts above the second."""

    def solve(self) -> dict[Point, float]:
        """Return the potential of every point."""
        ends = [end for part in (*self.resistors, *self.sinks, *self.sources) for end in part[:2]]
        points = sorted({end for end in ends if end != "ground"}, key=str)
        row = {point: index for index, point in enumerate(points)}
        size = len(points) + len(self.sources)
        # The ground has a last row of its own, which is left out of the system.
        whole, right = np.zeros((size + 1, size + 1)), np.zeros(size + 1)
        rows = {**row, "ground": size}
        for a, b, ohms in self.resistors:
            pair = [rows[a], rows[b]]
            whole[np.ix_(pair, pair)] += np.array([[1, -1], [-1, 1]]) / ohms
        for a, b, amps in self.sinks:
            right[rows[a]] -= amps
            right[rows[b]] += amps
        for extra, (a, b, volts) in enumerate(self.sources, start=len(points)):
            right[extra] = volts
            for point, sign in ((a, 1), (b, -1)):
                whole[rows[point], extra] += sign
                whole[extra, rows[point]] += sign
        found = np.linalg.solve(whole[:-1, :-1], right[:-1])
        return {"ground": 0.0, **{point: float(found[index]) for point, index in row.items()}}


def netlist_of(basis: Basis, ohms_per_m: Callable[[Wire], float], loads_a: Iterable[float]) -> Netlist:
    """Return the circuit of a string, conductor by conductor, drawn from what the file says of it."""
    net = Netlist()
    own = ohms_per_m(basis.wire)
    cuts = {feed.after for feed in basis.feeds if feed.is_cut}
    for k, (metres, amps) in enumerate(zip(basis.spacings_m, loads_a, strict=True), start=1):
        net.sinks.append((("+", k), ("-", k), amps))
        if k == 1:
            continue
        net.resistors.append((("-", k - 1), ("-", k), own * metres))
        if k - 1 not in cuts:
            net.resistors.append((("+", k - 1), ("+", k), own * metres))
    for nth, feed in enumerate(basis.feeds):
        terminal = ("terminal", nth)
        net.sources.append((terminal, "ground", feed.volts))
        each = ohms_per_m(feed.wire) * feed.lead_m
        if not feed.after:
            first = each + own * basis.spacings_m[0]
            net.resistors += [(terminal, ("+", 1), first), ("ground", ("-", 1), first)]
        elif feed.is_cut:
            on = each + own * basis.spacings_m[feed.after]
            net.resistors += [(terminal, ("+", feed.after + 1), on), ("ground", ("-", feed.after), each)]
        else:
            net.resistors += [(terminal, ("+", feed.after), each), ("ground", ("-", feed.after), each)]
    return net
