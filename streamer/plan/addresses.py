"""Where strings and fixtures lie in universes, slots and absolute channels: what is used, free and shared."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from streamer.display.model import (
    MULTICAST,
    SLOTS_PER_UNIVERSE,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
)
from streamer.display.numbering import channel_of, universe_text
from streamer.display.overlaps import Geometry, geometry_of
from streamer.display.slots import slots_of_line
from streamer.wire import e131
from streamer.wire.port_address import triple

FIRST_CHANNEL_UNIVERSE = {Protocol.E131: 0, Protocol.ARTNET: 1}
"""What is added to a number before it is counted in channels: those of Port-Address 0 are 1 to 512."""


@dataclass(frozen=True, slots=True)
class SlotAddress:
    """One slot of one universe, in every way that people write it."""

    universe: int
    text: str
    """ "universe 19", or "Port-Address 19 (0:1:3)"."""
    slot: int
    """1 to 512."""
    channel: int
    """Absolute: slots counted on from 1 over all universes of the protocol, 512 each."""


@dataclass(frozen=True, slots=True)
class Extent:
    """What a string or a fixture takes up."""

    first: SlotAddress
    last: SlotAddress
    universes: tuple[int, ...]
    split_nodes: int = 0
    """Nodes whose slots are in two universes."""


@dataclass(frozen=True, slots=True)
class Groups:
    """The multicast groups of an E1.31 universe (ANSI E1.31-2018 clause 9.3)."""

    ipv4: str
    ipv6: str


@dataclass(frozen=True, slots=True)
class Universe:
    """One universe to one destination, and what is patched into it."""

    protocol: Protocol
    address: str
    """Of the controllers, or "multicast"."""
    universe: int
    text: str
    port_address: str | None
    """Net:Sub-Net:Universe; None for E1.31."""
    groups: Groups | None
    """None for Art-Net, which has none."""
    is_multicast: bool
    controllers: tuple[str, ...]
    members: tuple[str, ...]
    """Ports and fixtures, in the order of the file; more than one share the universe."""
    slots_used: int
    slots_left: int
    """Of 512, wherever they are."""
    next_slot: int | None
    """Behind the last one used; None where there is none."""

    @property
    def is_shared(self) -> bool:
        """Whether more than one string or fixture is in it."""
        return len(self.members) > 1


@dataclass(frozen=True, slots=True)
class Free:
    """Universes that nothing is in, between the first and the last that are used."""

    protocol: Protocol
    first: int
    last: int
    text: str


def absolute_channel(protocol: Protocol, universe: int, slot: int) -> int:
    """Return the absolute channel of a slot, both from 1."""
    return channel_of(universe + FIRST_CHANNEL_UNIVERSE[protocol], slot)


def slot_address(protocol: Protocol, universe: int, slot: int) -> SlotAddress:
    """Return the address of a slot, counted from 1."""
    channel = absolute_channel(protocol, universe, slot)
    return SlotAddress(universe, universe_text(protocol, universe), slot, channel)


def extent_of_string(controller: Controller, port: Port) -> Extent:
    """Return what a string's own nodes take up, without skipped ones, from the first on the line on."""
    universe, slot = (grid[port.skip :] for grid in slots_of_line(controller, port))
    return Extent(
        slot_address(controller.protocol, int(universe[0, 0]), int(slot[0, 0]) + 1),
        slot_address(controller.protocol, int(universe[-1, -1]), int(slot[-1, -1]) + 1),
        tuple(np.unique(universe).tolist()),
        int((universe[:, 0] != universe[:, -1]).sum()),
    )


def extent_of_fixture(controller: Controller, fixture: Fixture) -> Extent:
    """Return what a fixture's channels take up."""
    last_slot = fixture.slot + len(fixture.channels) - 1
    return Extent(
        slot_address(controller.protocol, fixture.universe, fixture.slot),
        slot_address(controller.protocol, fixture.universe, last_slot),
        (fixture.universe,),
    )


def universes_of(display: Display) -> tuple[Universe, ...]:
    """Return every universe that is sent, by protocol, number and address; skipped nodes count as used."""
    geometry = geometry_of(display)
    rows: dict[tuple[Protocol, int, str], list[int]] = {}
    for row, party in enumerate(geometry.party.tolist()):
        controller = display.controllers[geometry.parties[party].controller]
        key = (controller.protocol, int(geometry.universe[row]), controller.address)
        rows.setdefault(key, []).append(row)
    return tuple(_universe(display, geometry, key, rows[key]) for key in sorted(rows, key=_file_order))


def _file_order(key: tuple[Protocol, int, str]) -> tuple[int, int, str]:
    protocol, number, address = key
    return list(Protocol).index(protocol), number, address


def _universe(
    display: Display, geometry: Geometry, key: tuple[Protocol, int, str], rows: list[int]
) -> Universe:
    protocol, number, address = key
    parties = [geometry.parties[party] for party in geometry.party[rows].tolist()]
    used = int((geometry.last[rows] - geometry.first[rows] + 1).sum())
    behind = int(geometry.last[rows].max()) + 2
    is_e131 = protocol is Protocol.E131
    return Universe(
        protocol=protocol,
        address=address,
        universe=number,
        text=universe_text(protocol, number),
        port_address=None if is_e131 else triple(number),
        groups=Groups(e131.multicast_group(number), e131.multicast_group_v6(number)) if is_e131 else None,
        is_multicast=address == MULTICAST,
        controllers=_once(display.controllers[party.controller].name for party in parties),
        members=_once(party.name for party in parties),
        slots_used=used,
        slots_left=SLOTS_PER_UNIVERSE - used,
        next_slot=behind if behind <= SLOTS_PER_UNIVERSE else None,
    )


def free_between(universes: Iterable[Universe]) -> tuple[Free, ...]:
    """Return the unused runs between the universes of each protocol."""
    used: dict[Protocol, set[int]] = {}
    for universe in universes:
        used.setdefault(universe.protocol, set()).add(universe.universe)
    return tuple(_gaps(used))


def _gaps(used: Mapping[Protocol, set[int]]) -> Iterator[Free]:
    for protocol, numbers in used.items():
        listed = sorted(numbers)
        for before, after in pairwise(listed):
            if after - before > 1:
                first, last = before + 1, after - 1
                more = "" if first == last else f" to {universe_text(protocol, last).split(' ', 1)[1]}"
                yield Free(protocol, first, last, universe_text(protocol, first) + more)


def _once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))
