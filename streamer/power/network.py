"""The circuit of a display: every string's nodes, the two conductors between them, and what feeds them.

Both conductors of a string are alike, so node to node one resistance stands for the pair (the difference of
the two rails follows from it exactly, whatever the supplies' grounds have in common).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from streamer.display.electrics import Drive
from streamer.display.slots import Indices
from streamer.power.basis import Basis, Feed, Floats
from streamer.power.copper import Copper

CONDUCTORS = 2
MA_PER_A = 1000
FULL = 255
DRIVES = tuple(Drive)


@dataclass(frozen=True, slots=True)
class Network:
    """The circuits of some ports side by side. L nodes on the lines, skipped ones included; F feeds."""

    bases: tuple[Basis, ...]
    first_of_port: Indices
    """(P + 1,): where each port's nodes begin, in the order of the line; the last is L."""
    port_of_node: Indices
    """(L,)"""
    frame_node: Indices
    """(L,): which node of a frame it is (ports in order, each as it hangs); -1 for a skipped one."""
    series_s: Floats
    """(L,): conductance to the node before, in siemens; 0 where none comes before or the positive is cut."""
    feed_node: Indices
    """(F,): the node that each feed reaches."""
    feed_s: Floats
    """(F,): through this conductance."""
    feed_volts: Floats
    """(F,)"""
    feed_port: Indices
    """(F,)"""
    feeds: tuple[Feed, ...]
    drive: Indices
    """(P,): index into `DRIVES`."""
    volts: Floats
    """(P,): nominal, of its nodes."""
    volts_min: Floats
    """(P,)"""
    full_a: Floats
    """(P, 4): of each colour fully on."""
    idle_a: Floats
    """(P,)"""

    def load_a(self, nodes: np.ndarray) -> Floats:
        """Return the nominal current of each node on the lines, (L,), of a frame's nodes, (N, 4) octets."""
        lit = self.frame_node >= 0
        load = self.idle_a[self.port_of_node]
        colours = nodes[self.frame_node[lit]] * self.full_a[self.port_of_node[lit]]
        load[lit] += colours.sum(axis=1) / FULL
        return load

    def white_a(self, share: float) -> Floats:
        """Return the same of all colours of all nodes at a share from 0 to 1."""
        lit = self.frame_node >= 0
        per_port = self.full_a.sum(axis=1) * share
        return self.idle_a[self.port_of_node] + np.where(lit, per_port[self.port_of_node], 0.0)


def network_of(bases: Sequence[Basis], copper: Copper) -> Network:
    """Return the circuit of these ports, in which frames have exactly their nodes."""
    lengths = [len(basis.spacings_m) for basis in bases]
    first = np.concatenate([[0], np.cumsum(lengths, dtype=np.intp)]).astype(np.intp)
    wires = [CONDUCTORS * copper.ohms_per_m(basis.wire) * basis.spacings_m for basis in bases]
    spans = np.concatenate([np.zeros(0), *wires])
    series = 1 / spans
    series[first[:-1]] = 0.0
    reached, ohms = [], []
    for row, basis in enumerate(bases):
        for feed in basis.feeds:
            lead = CONDUCTORS * copper.ohms_per_m(feed.wire) * feed.lead_m
            node = first[row] + (basis.port.skip + feed.after - (not feed.is_cut) if feed.after else 0)
            begins = not feed.after or feed.is_cut
            if begins:
                series[node] = 0.0
            reached.append(node)
            ohms.append(lead + (spans[node] if begins else 0.0))
    feeds = tuple(feed for basis in bases for feed in basis.feeds)
    port_of_feed = [row for row, basis in enumerate(bases) for _ in basis.feeds]
    return Network(
        tuple(bases),
        first,
        np.repeat(np.arange(len(bases)), lengths),
        _frame_nodes(bases),
        series,
        np.array(reached, np.intp),
        1 / np.array(ohms),
        np.array([feed.volts for feed in feeds]),
        np.array(port_of_feed, np.intp),
        feeds,
        np.array([DRIVES.index(basis.kind.drive) for basis in bases], np.intp),
        np.array([basis.kind.volts for basis in bases]),
        np.array([basis.kind.volts_min for basis in bases]),
        np.array([basis.full_ma for basis in bases]).reshape(-1, 4) / MA_PER_A,
        np.array([basis.kind.idle_ma for basis in bases]) / MA_PER_A,
    )


def _frame_nodes(bases: Sequence[Basis]) -> Indices:
    pieces, begins = [np.zeros(0, np.intp)], 0
    for basis in bases:
        hung = begins + np.arange(basis.port.nodes, dtype=np.intp)
        pieces += [np.full(basis.port.skip, -1, np.intp), hung[::-1] if basis.port.reversed else hung]
        begins += basis.port.nodes
    return np.concatenate(pieces)
