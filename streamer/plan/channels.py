"""A row for each node and each fixture channel: what a person types into the software that runs the show."""

from collections.abc import Iterator
from dataclasses import dataclass

from streamer.display.model import Controller, Display, Fixture, Port, Protocol
from streamer.display.slots import slots_of_string
from streamer.plan.addresses import absolute_channel
from streamer.wire.port_address import triple


@dataclass(frozen=True, slots=True)
class ChannelRow:
    """One node of a string, or one channel of a fixture."""

    index: int
    """From 1, over the whole display."""
    string: str
    """ "jetty/1", or the name of a fixture."""
    label: str
    node: int
    """From 1, in the order in which the nodes hang; for a fixture its channel."""
    universe: int
    """E1.31 universe, or Art-Net Port-Address."""
    port_address: str
    """Net:Sub-Net:Universe; empty for E1.31."""
    slot: int
    """Of the node's first colour; the others follow, in the next universe from slot 1 where one ends."""
    channel: int
    """The same, absolute."""
    colour_order: str
    """Of a fixture: what the channel does."""


def channel_rows(display: Display) -> Iterator[ChannelRow]:
    """Yield the rows: each controller's strings, then its fixtures."""
    index = 0
    for controller in display.controllers:
        for port in controller.ports:
            yield from _of_string(controller, port, index)
            index += port.nodes
        for fixture in controller.fixtures:
            yield from _of_fixture(controller, fixture, index)
            index += len(fixture.channels)


def _of_string(controller: Controller, port: Port, index: int) -> Iterator[ChannelRow]:
    universes, slots = slots_of_string(controller, port)
    places = zip(universes[:, 0].tolist(), slots[:, 0].tolist(), strict=True)
    for node, (universe, slot) in enumerate(places, 1):
        yield ChannelRow(
            index + node,
            port.name,
            port.label,
            node,
            *_where(controller, universe, slot + 1),
            port.colour_order,
        )


def _of_fixture(controller: Controller, fixture: Fixture, index: int) -> Iterator[ChannelRow]:
    for number, role in enumerate(fixture.channels, 1):
        where = _where(controller, fixture.universe, fixture.slot + number - 1)
        yield ChannelRow(index + number, fixture.name, "", number, *where, role.value)


def _where(controller: Controller, universe: int, slot: int) -> tuple[int, str, int, int]:
    """Return the number, Net:Sub-Net:Universe, the slot from 1 and the absolute channel."""
    written = triple(universe) if controller.protocol is Protocol.ARTNET else ""
    return universe, written, slot, absolute_channel(controller.protocol, universe, slot)
