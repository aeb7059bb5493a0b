"""The circuit of a display: every string's nodes, its two conductors between them, and what feeds them.

The negative poles of all supplies are one point, as the trade joins them; positives meet only in the strings.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from streamer.display.electrics import Drive
from streamer.display.slots import Indices
from streamer.power.basis import Basis, Feed, Floats
from streamer.power.copper import Copper

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
    positive_s: Floats
    """(L,): of the positive conductor from the node before, in siemens; 0 where there is none, or a cut."""
    negative_s: Floats
    """(L,): of the negative conductor; 0 where there is none."""
    feed_node: Indices
    """(F,): the node whose positive each feed reaches..."""
    feed_s: Floats
    """(F,): ...through this conductance."""
    return_node: Indices
    """(F,): the node from whose negative it comes back..."""
    return_s: Floats
    """(F,): ...through this one."""
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

    @property
    def is_even(self) -> bool:
        """Whether both conductors of every string carry the same: no positive cut, no two voltages."""
        meet = np.diff(self.feed_port) == 0
        return not any(feed.is_cut for feed in self.feeds) and not np.diff(self.feed_volts)[meet].any()

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
    ohms = np.concatenate(
        [np.zeros(0), *(copper.ohms_per_m(basis.wire) * basis.spacings_m for basis in bases)]
    )
    positive, negative = 1 / ohms, 1 / ohms
    positive[first[:-1]] = negative[first[:-1]] = 0.0
    reached = []
    for row, basis in enumerate(bases):
        for feed in basis.feeds:
            lead = copper.ohms_per_m(feed.wire) * feed.lead_m
            # An injection meets the conductors at its node; a cut positive begins again with the next one.
            back = first[row] + (basis.port.skip + feed.after - 1 if feed.after else 0)
            node = back + feed.is_cut
            begins = not feed.after or feed.is_cut
            if begins:
                positive[node] = 0.0
            way = lead + (ohms[node] if begins else 0.0)
            reached.append((node, 1 / way, back, 1 / (lead if feed.after else way)))
    feeds = tuple(feed for basis in bases for feed in basis.feeds)
    feed_node, feed_s, return_node, return_s = zip(*reached, strict=True)
    port_of_feed = [row for row, basis in enumerate(bases) for _ in basis.feeds]
    return Network(
        tuple(bases),
        first,
        np.repeat(np.arange(len(bases)), lengths),
        _frame_nodes(bases),
        positive,
        negative,
        np.array(feed_node, np.intp),
        np.array(feed_s),
        np.array(return_node, np.intp),
        np.array(return_s),
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
