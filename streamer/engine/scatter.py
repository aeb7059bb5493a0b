"""Writes frames into a matrix of packets: a few changed nodes singly, whole frames by strided copies.

At 170,000 nodes on 1,000 universes an index for every component takes 2.1 ms a frame, strided copies take
0.3 ms, and one node in a hundred 0.06 ms.
"""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.patch import Patch
from streamer.display.slots import Indices
from streamer.engine.changes import Changes, octets_of
from streamer.engine.difference import Chosen, picked

SINGLY_SHARE = 0.05
"""When more of the nodes than this change, it is quicker to write all of them."""
RUN_NODES = 8
"""Shorter runs are not worth a strided copy of their own."""


class Scatter:
    """The map from a frame to the octets of some streams' packets.

    `packets` is (streams, octets), the view of a flat array that has one octet more, or some, at its end:
    what no packet carries is written to the first of them.
    """

    def __init__(self, patch: Patch, rows: Indices, flat: Bytes, packets: Bytes, slots_octet: int) -> None:
        self._flat = flat
        self._slots = packets[:, slots_octet:]
        self._length = packets.shape[1]
        self._scrap = packets.size
        ours = rows[patch.node_streams] >= 0
        octets = rows[patch.node_streams[ours]] * self._length + slots_octet + patch.node_slots[ours]
        table = np.full(len(patch.layout.place) * COMPONENTS, self._scrap, np.intp)
        table[patch.node_components[ours]] = octets
        self._octets_of_node = table.reshape(-1, COMPONENTS)
        self._channels = np.flatnonzero(rows[patch.channel_streams] >= 0)
        channel_rows = rows[patch.channel_streams[self._channels]]
        self._octets_of_channel = (
            channel_rows * self._length + slots_octet + patch.channel_slots[self._channels]
        )
        self._blocks, self._rest = _compile(self._octets_of_node, self._scrap)

    def write(self, frame: Frame, nodes: Chosen) -> NDArray[np.bool_]:
        """Write a frame and say in which rows anything changed; `nodes` are the only ones that may have."""
        if isinstance(nodes, np.ndarray) and len(nodes) <= SINGLY_SHARE * len(self._octets_of_node):
            # One row more than there are, for what no packet carries.
            changed = np.zeros(len(self._slots) + 1, np.bool_)
            self._put(picked(self._octets_of_node, nodes), picked(frame.nodes, nodes), changed)
            if len(self._channels):
                self._put(self._octets_of_channel, frame.channels[self._channels], changed)
            return changed[:-1]
        before = self._slots.copy()
        self.write_each(frame.nodes[None], frame.channels[None], self._flat[None])
        differs: NDArray[np.bool_] = np.logical_or.reduce(self._slots != before, axis=1)
        return differs

    def patches(self, changes: Changes, frames: int) -> "Patches":
        """Return what writes each of so many frames over the one before, and which rows that changes."""
        # One row more than there are, for what no packet carries.
        changed = np.zeros((frames, len(self._slots) + 1), np.bool_)
        writes, first = [], 0
        for number, end in enumerate(changes.frames.searchsorted(np.arange(frames), side="right").tolist()):
            lights, after = changes.lights[first:end], changes.after[first:end]
            # By their numbers, picking them out takes a third of the time.
            (differing,) = octets_of(changes.before[first:end] ^ after).reshape(-1).nonzero()
            octets = self._octets_of_node.take(lights, axis=0).reshape(-1).take(differing)
            changed[number][octets // self._length] = True
            writes.append((octets, octets_of(after).reshape(-1).take(differing)))
            first = end
        return Patches(changed[:, :-1], writes)

    def write_each(self, nodes: Bytes, channels: Bytes, flats: Bytes) -> None:
        """Write frames into as many flat arrays, each (F, ...) in C order."""
        for block in self._blocks:
            block.copy(nodes, flats)
        if len(self._rest):
            flats[:, self._octets_of_node[self._rest]] = nodes[:, self._rest]
        if len(self._channels):
            flats[:, self._octets_of_channel] = channels[:, self._channels]

    def _put(self, octets: Indices, values: Bytes, changed: NDArray[np.bool_]) -> None:
        differs = self._flat.take(octets) != values
        changing = octets[differs]
        self._flat[changing] = values[differs]
        changed[changing // self._length] = True


class Patches(NamedTuple):
    """What some frames that follow one another change in packets."""

    changed: NDArray[np.bool_]
    """Which packets each frame changes, (F, packets)."""
    writes: list[tuple[Indices, Bytes]]
    """For each frame, where in the flat array and what is to be written."""


class Run(NamedTuple):
    """Neighbouring nodes whose octets follow each other at one distance."""

    node: int
    nodes: int
    octet: int
    """Of the first node's lowest component."""
    width: int
    """Octets from node to node."""
    order: tuple[tuple[int, int], ...]
    """(component, its distance from the lowest)."""


@dataclass(frozen=True, slots=True)
class Block:
    """Runs of one shape that begin at even distances: one strided copy a component."""

    first: Run
    runs: int
    node_step: int
    octet_step: int

    def copy(self, nodes: Bytes, flats: Bytes) -> None:
        """Copy the nodes of all its runs to their octets, for each of some frames."""
        shape = (len(nodes), self.runs, self.first.nodes)
        to_octets = (flats.shape[1], self.octet_step, self.first.width)
        from_nodes = (nodes.shape[1] * COMPONENTS, self.node_step * COMPONENTS, COMPONENTS)
        for component, distance in self.first.order:
            there = np.ndarray(shape, np.uint8, flats, self.first.octet + distance, to_octets)
            there[...] = np.ndarray(
                shape, np.uint8, nodes, self.first.node * COMPONENTS + component, from_nodes
            )


def _compile(table: Indices, scrap: int) -> tuple[list[Block], Indices]:
    """Return the blocks of a node table, and the nodes that are in none."""
    alike: dict[tuple[int, int, tuple[tuple[int, int], ...]], list[Run]] = defaultdict(list)
    is_rest = np.ones(len(table), np.bool_)
    for run in _runs(table, scrap):
        alike[run.nodes, run.width, run.order].append(run)
        is_rest[run.node : run.node + run.nodes] = False
    is_rest &= (table != scrap).any(axis=1)
    return [block for runs in alike.values() for block in _blocks(runs)], np.flatnonzero(is_rest)


def _runs(table: Indices, scrap: int) -> Iterator[Run]:
    carried = table != scrap
    steps = np.diff(table, axis=0)
    step = np.take_along_axis(steps, carried[1:].argmax(axis=1)[:, None], axis=1)
    is_even = ((steps == step) | ~carried[1:]).all(axis=1)
    is_even &= (carried[:-1] == carried[1:]).all(axis=1)
    # Side by side, or side by side backwards: anything else is the end of a string or a universe.
    width = carried[1:].sum(axis=1)
    is_even &= (np.abs(step[:, 0]) == width) & (width > 0)
    breaks = np.flatnonzero(~is_even) + 1
    for first, last in zip([0, *breaks], [*breaks, len(table)], strict=True):
        if last - first >= RUN_NODES and (step[first : last - 1] == step[first]).all():
            lowest = int(table[first][carried[first]].min())
            order = tuple(
                (component, int(table[first, component]) - lowest)
                for component in range(COMPONENTS)
                if carried[first, component]
            )
            yield Run(int(first), int(last - first), lowest, int(step[first, 0]), order)


def _blocks(runs: list[Run]) -> Iterator[Block]:
    """Yield runs of one shape, as many as begin at even distances together."""
    while runs:
        steps = [(b.node - a.node, b.octet - a.octet) for a, b in pairwise(runs)]
        alike = next((i for i, step in enumerate(steps) if step != steps[0]), len(steps))
        taken = alike + 1
        yield Block(runs[0], taken, *(steps[0] if steps else (0, 0)))
        runs = runs[taken:]
