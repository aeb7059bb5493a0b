"""What each feed of a display brings for a frame: quick enough to be asked for every frame sent.

Nodes count with the most that they can draw at any voltage that their supplies leave them, so what is really
drawn is never more.
"""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes
from streamer.display.electrics import Drive
from streamer.power.basis import Basis, Floats
from streamer.power.copper import Copper
from streamer.power.network import FULL, network_of
from streamer.power.solve import shares, solve

LANES = np.uint32(0x00FF00FF)
"""Two octets of a node side by side, each with room for the sum of `BLOCK` of them."""
LANE, LANE_BITS, OCTET_BITS = np.uint32(0xFFFF), np.uint32(16), np.uint32(8)
BLOCK = 257
"""So many octets add up to less than 2 ** 16."""


class FeedCurrents:
    """Of these ports, all that frames have: F feeds, port by port."""

    def __init__(self, bases: tuple[Basis, ...]) -> None:
        network = network_of(bases, Copper())
        lengths = np.array([basis.port.nodes for basis in bases], np.intp)
        most = np.array([_most(basis) for basis in bases])
        self.feeds = network.feeds
        self.port_of_feed = network.feed_port
        starts = np.cumsum(lengths) - lengths
        blocks = [
            np.arange(start, start + length, BLOCK) for start, length in zip(starts, lengths, strict=True)
        ]
        self._block_starts = np.concatenate(blocks)
        self._first_block = np.cumsum([0, *map(len, blocks[:-1])])
        self._octet_a = network.full_a * most[:, None] / FULL
        idle_a = network.idle_a * most
        skips = np.array([basis.port.skip for basis in bases])
        self.idle_a = (idle_a * (lengths + skips))[self.port_of_feed]
        """(F,): what no dimming takes away."""
        fed_by = np.bincount(self.port_of_feed, minlength=len(bases))
        self._is_shared = (fed_by > 1)[self.port_of_feed]
        if self._is_shared.any():
            self._share(bases, fed_by, lengths, idle_a)
        self.full_a = self.dimmable_a(np.full((lengths.sum(), COMPONENTS), FULL, np.uint8))
        """(F,): what dimming takes away at full white."""

    def _share(
        self, bases: tuple[Basis, ...], fed_by: np.ndarray, lengths: np.ndarray, idle_a: Floats
    ) -> None:
        """Prepare for ports of several feeds: which part of each node's current each of them brings."""
        rows = np.flatnonzero(fed_by > 1)
        network = network_of([bases[row] for row in rows], Copper())
        parts = shares(network)
        nth = np.arange(len(network.feeds)) - np.searchsorted(network.feed_port, network.feed_port)
        self._port_of_shared, self._nth_of_shared = network.feed_port, nth
        no_load_a = solve(network, np.zeros(len(parts))).feed_a
        idle = np.add.reduceat(idle_a[rows][network.port_of_node, None] * parts, network.first_of_port[:-1])
        self.idle_a[self._is_shared] = idle[network.feed_port, nth] + no_load_a
        self._shared_nodes = np.flatnonzero(np.repeat(fed_by > 1, lengths))
        lit = network.frame_node >= 0
        self._parts = np.empty((parts.shape[1], len(self._shared_nodes)))
        self._parts[:, network.frame_node[lit]] = parts[lit].T
        self._shared_octet_a = np.repeat(self._octet_a[rows], lengths[rows], axis=0).astype(np.float32)
        self._shared_starts = np.cumsum(lengths[rows]) - lengths[rows]

    def dimmable_a(self, nodes: Bytes) -> Floats:
        """Return what each feed brings for the light of (N, 4) octets, (F,), the idle current left out."""
        words = np.ascontiguousarray(nodes).view("<u4")[:, 0]
        amps = (self._sums(words) * self._octet_a).sum(axis=1)[self.port_of_feed]
        if self._is_shared.any():
            # Taken as whole words, and made floats once: an index for every octet costs four times as much.
            octets = words[self._shared_nodes].view(np.uint8).reshape(-1, COMPONENTS).astype(np.float32)
            octets *= self._shared_octet_a
            node_a = octets @ np.ones(COMPONENTS, np.float32)
            by_feed = np.add.reduceat(self._parts * node_a, self._shared_starts, axis=1)
            amps[self._is_shared] = by_feed[self._nth_of_shared, self._port_of_shared]
        return np.asarray(amps)

    def _sums(self, words: NDArray[np.uint32]) -> NDArray[np.uint32]:
        """Return the sum of each component over each port's nodes, (P, 4).

        Two components of a node are added in one number: adding octets one by one takes ten times as long.
        """
        even, odd = (
            np.add.reduceat(lanes, self._block_starts, dtype=np.uint32)
            for lanes in (words & LANES, words >> OCTET_BITS & LANES)
        )
        by_block = np.stack([even & LANE, odd & LANE, even >> LANE_BITS, odd >> LANE_BITS], axis=1)
        return np.asarray(np.add.reduceat(by_block, self._first_block, axis=0))


def _most(basis: Basis) -> float:
    """Return how many times its nominal current a node may draw, at the voltages it can have."""
    kind = basis.kind
    if kind.drive is Drive.RESISTIVE:
        return max(feed.volts for feed in basis.feeds) / kind.volts
    if kind.drive is Drive.REGULATED:
        return kind.volts / kind.volts_min
    return 1.0
