"""A yard on a workbench: packets built by hand go in, colours come out. The clock is a number."""

from collections.abc import Iterable, Sequence
from struct import pack
from typing import Any
from uuid import UUID

from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.yard.faults import Fault
from streamer.yard.intake import OnLoss
from streamer.yard.messages import PortSeen
from streamer.yard.yard import Yard

CID = UUID("5b1c07d2-3e0a-4f66-9d8e-20c4a1f7b935")
OTHER_CID = UUID("0d9c4a1e-77b2-4c59-8a03-6fe2158d3b40")
Node = tuple[int, ...]
RED, GREEN, BLUE, DARK = (255, 0, 0, 0), (0, 255, 0, 0), (0, 0, 255, 0), (0, 0, 0, 0)
PREVIEW, TERMINATED = 0x80, 0x40
"""ANSI E1.31-2018 clause 6.2.6."""


def data_packet(  # noqa: PLR0913  the fields of the packet
    universe: int,
    slots: bytes,
    sequence: int = 0,
    *,
    cid: UUID = CID,
    name: str = "boathouse",
    priority: int = 100,
    sync_address: int = 0,
    options: int = 0,
    start_code: int = 0,
) -> bytes:
    """Return a data packet, octet by octet from ANSI E1.31-2018 tables 4-1, 5-4, 6-5 and 7-8."""
    size = 126 + len(slots)
    root = pack(">HH12sHI16s", 0x0010, 0, b"ASC-E1.17", 0x7000 | size - 16, 4, cid.bytes)
    framing = pack(
        ">HI64sBHBBH",
        0x7000 | size - 38,
        2,
        name.encode(),
        priority,
        sync_address,
        sequence % 256,
        options,
        universe,
    )
    dmp = pack(">HBBHHHB", 0x7000 | size - 115, 0x02, 0xA1, 0, 1, 1 + len(slots), start_code)
    return root + framing + dmp + slots


def sync_packet(sync_address: int, sequence: int = 0) -> bytes:
    """Return a synchronization packet, from tables 4-2 and 6-6."""
    root = pack(">HH12sHI16s", 0x0010, 0, b"ASC-E1.17", 0x7021, 8, CID.bytes)
    return root + pack(">HIBHH", 0x700B, 1, sequence % 256, sync_address, 0)


def art_dmx(port_address: int, slots: bytes, sequence: int = 0) -> bytes:
    """Return an ArtDmx, from the Art-Net 4 packet definition."""
    return (
        b"Art-Net\0"
        + bytes([0x00, 0x50, 0, 14, sequence, 0, port_address & 0xFF, port_address >> 8])
        + pack(">H", len(slots))
        + slots
    )


ART_SYNC = b"Art-Net\0" + bytes([0x00, 0x52, 0, 14, 0, 0])
ART_POLL = b"Art-Net\0" + bytes([0x00, 0x20, 0, 14, 0, 0])


def port(number: int, nodes: int, universe: int, **others: Any) -> Port:
    """Return a port of the jetty's controller."""
    name = f"jetty/{number}"
    return Port(name=name, number=number, universe=universe, segments=(Segment(nodes=nodes),), **others)


def jetty(ports: Iterable[Port], **others: Any) -> Display:
    """Return a display of one controller, E1.31 on 127.0.0.1 unless asked otherwise."""
    settings = {"protocol": Protocol.E131, "address": "127.0.0.1", **others}
    return Display(name="boathouse", controllers=(Controller(name="jetty", ports=tuple(ports), **settings),))


class Bench:
    """A yard, and a sender that counts its packets."""

    def __init__(self, display: Display, on_loss: OnLoss = OnLoss.HOLD) -> None:
        self.yard = Yard(display, on_loss)
        self.now = 100.0
        self.sequence = 0

    def send(self, universe: int, slots: Iterable[int], **others: Any) -> None:
        """Send levels by E1.31, 10 ms after the packet before."""
        self.now += 0.01
        self.sequence += 1
        self.give(data_packet(universe, bytes(slots), self.sequence, **others))

    def give(self, payload: bytes, protocol: Protocol = Protocol.E131) -> tuple[bytes, ...]:
        """Give the yard a datagram as it is."""
        return self.yard.take(payload, protocol, self.now)

    def set_faults(self, number: int, *faults: Fault) -> None:
        """Give a port of the jetty faults."""
        self.yard.set_faults(f"jetty/{number}", faults)

    def nodes(self, number: int = 1) -> list[tuple[int, ...]]:
        """Return what the planned nodes of a port of the jetty show, red, green, blue, white."""
        string = self.yard.ports[f"jetty/{number}"].string
        return [tuple(node) for node in string.in_plan(self.yard.shown(f"jetty/{number}")).tolist()]

    def seen(self, number: int = 1) -> PortSeen:
        """Return the counters of a port of the jetty."""
        return next(each for each in self.yard.ports_seen() if each.name == f"jetty/{number}")


def colours(count: int, *colour: int) -> list[int]:
    """Return the slots of a solid fill."""
    return list(colour) * count


def runs(nodes: Sequence[tuple[int, ...]]) -> list[tuple[int, tuple[int, ...]]]:
    """Return how many neighbours in a row show each colour."""
    found: list[tuple[int, tuple[int, ...]]] = []
    for node in nodes:
        if found and found[-1][1] == node:
            found[-1] = (found[-1][0] + 1, node)
        else:
            found.append((1, node))
    return found
