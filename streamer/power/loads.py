"""What a display draws and where its voltage is lowest, of white at a level and of any frame."""

from dataclasses import dataclass

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.power.basis import Floats, basis_of
from streamer.power.copper import Copper
from streamer.power.network import FULL, Network, network_of
from streamer.power.solve import Solution, solve

PERCENT = 100


@dataclass(frozen=True, slots=True)
class PortLoad:
    """One port under one load."""

    amps: float
    """What its nodes draw at the voltages that they get."""
    volts: Floats
    """(nodes,): at each node, as they hang."""
    lowest_volts: float
    lowest_node: int
    """Where that is, from 1, as they hang."""
    feed_a: tuple[float, ...]
    """What each feed of its basis brings; below 0 where current flows back into a supply."""


@dataclass(frozen=True, slots=True)
class Load:
    """A display under one load."""

    ports: tuple[PortLoad, ...]
    """In the order of the display."""
    supply_a: tuple[float, ...]
    """Of each of the display's supplies."""
    amps: float
    is_settled: bool
    """False where regulated nodes ask for more than the copper can bring, and no steady state was found."""


class Loads:
    """The circuit of a checked display, made once and solved for as many loads as one likes."""

    def __init__(self, display: Display, copper: Copper | None = None) -> None:
        self.copper = copper or Copper()
        self.display = display
        self.bases = tuple(basis_of(display, port) for port in display.ports)
        self._network = network_of(self.bases, self.copper)

    def of_white(self, level_percent: float) -> Load:
        """Return the load of every colour of every node at a level, rounded down as the engine rounds it."""
        octet = int(FULL * level_percent / PERCENT)
        return self._load(self._network.white_a(octet / FULL))

    def of_frame(self, nodes: Bytes) -> Load:
        """Return the load of a frame's nodes, (N, 4) octets."""
        return self._load(self._network.load_a(nodes))

    def _load(self, load_a: Floats) -> Load:
        network, solution = self._network, solve(self._network, load_a)
        ports = tuple(_port_load(network, solution, row) for row in range(len(self.bases)))
        of_supply = {supply.name: 0.0 for supply in self.display.supplies}
        for feed, amps in zip(network.feeds, solution.feed_a.tolist(), strict=True):
            if feed.supply is not None:
                of_supply[feed.supply] += amps
        return Load(
            ports, tuple(of_supply.values()), float(solution.node_a.sum()), is_settled=solution.is_settled
        )


def _port_load(network: Network, solution: Solution, row: int) -> PortLoad:
    mine = slice(network.first_of_port[row], network.first_of_port[row + 1])
    port = network.bases[row].port
    on_line = solution.volts[mine][port.skip :]
    volts = on_line[::-1] if port.reversed else on_line
    lowest = int(volts.argmin())
    first, last = np.searchsorted(network.feed_port, [row, row + 1])
    return PortLoad(
        float(solution.node_a[mine].sum()),
        volts,
        float(volts[lowest]),
        lowest + 1,
        tuple(solution.feed_a[first:last].tolist()),
    )
