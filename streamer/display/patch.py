"""The patch: which slot of which universe carries which component of which node. Compiled once.

A stream is one universe to one destination: one packet a frame. Slots count from 0 in here, as array
indices; everywhere a person looks they count from 1.
"""

from dataclasses import dataclass

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame, Layout
from streamer.display.layout import layout_of
from streamer.display.model import Controller, Display, Protocol
from streamer.display.slots import Indices, slots_of_line, slots_of_string

COMPONENT_OF = {"R": 0, "G": 1, "B": 2, "W": 3}


@dataclass(frozen=True, slots=True)
class StreamKey:
    """What makes two streams different: the protocol, the destination and the universe."""

    protocol: Protocol
    address: str
    universe: int


@dataclass(frozen=True, slots=True)
class Stream:
    """One universe to one destination, with the controller whose settings its packets carry."""

    key: StreamKey
    controller: Controller


@dataclass(frozen=True, slots=True)
class Patch:
    """The compiled map. K patched node components, C fixture channels, S streams."""

    layout: Layout
    streams: tuple[Stream, ...]
    node_components: Indices
    """(K,): index into a frame's nodes, flattened."""
    node_streams: Indices
    """(K,): the stream that carries it."""
    node_slots: Indices
    """(K,): its slot there, from 0."""
    channel_streams: Indices
    """(C,)"""
    channel_slots: Indices
    """(C,): from 0."""

    def scatter(self, frame: Frame, slots: Bytes) -> None:
        """Write a frame into the slots of all streams, an (S, 512) array; other slots are left alone."""
        slots[self.node_streams, self.node_slots] = frame.nodes.reshape(-1)[self.node_components]
        slots[self.channel_streams, self.channel_slots] = frame.channels


def compile_patch(display: Display) -> Patch:
    """Compile the patch of a display that has passed its checks."""
    rows = _Rows()
    components, streams, slots = [], [], []
    first_node = 0
    for controller in display.controllers:
        for port in controller.ports:
            # A universe that holds only skipped nodes is sent too, or they would not be kept dark.
            rows.of(controller, slots_of_line(controller, port)[0][: port.skip].reshape(-1))
            universe, slot = slots_of_string(controller, port)
            order = [COMPONENT_OF[colour] for colour in port.colour_order]
            nodes = first_node + np.arange(port.nodes)
            components.append((nodes[:, None] * COMPONENTS + order).reshape(-1))
            streams.append(rows.of(controller, universe.reshape(-1)))
            slots.append(slot.reshape(-1))
            first_node += port.nodes
    channels = [
        (rows.of(controller, np.array([fixture.universe]))[0], fixture.slot - 1 + index)
        for controller in display.controllers
        for fixture in controller.fixtures
        for index in range(len(fixture.channels))
    ]
    channel_table = np.array(channels, np.intp).reshape(-1, 2)
    return Patch(
        layout_of(display),
        tuple(rows.streams),
        _join(components),
        _join(streams),
        _join(slots),
        channel_table[:, 0],
        channel_table[:, 1],
    )


class _Rows:
    """Gives each stream its row, in the order of first use."""

    def __init__(self) -> None:
        self.streams: list[Stream] = []
        self._row_of: dict[StreamKey, int] = {}

    def of(self, controller: Controller, universes: Indices) -> Indices:
        """Return the row of each universe, making rows for the new ones."""
        known, where = np.unique(universes, return_inverse=True)
        return np.array([self._row(controller, int(universe)) for universe in known], np.intp)[where]

    def _row(self, controller: Controller, universe: int) -> int:
        key = StreamKey(controller.protocol, controller.address, universe)
        if key not in self._row_of:
            self._row_of[key] = len(self.streams)
            self.streams.append(Stream(key, controller))
        return self._row_of[key]


def _join(arrays: list[Indices]) -> Indices:
    return np.concatenate(arrays) if arrays else np.zeros(0, np.intp)
