"""A table under a fake clock, and datagrams given to it as a listener would."""

import socket
import struct
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any
from uuid import UUID

import numpy as np

from streamer.display.model import Protocol
from streamer.hear.messages import SourceHeard, UniverseHeard
from streamer.hear.table import Table
from streamer.net.arrivals import IPV4_IN_IPV6, NAME_OCTETS, ROW_OCTETS, Arrivals
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket

A, B, C = UUID(int=1), UUID(int=2), UUID(int=3)
ADDRESS = "10.61.0.2"
GROUP = "239.255.0.1"


def data(sequence: int = 0, cid: UUID = A, universe: int = 1, **more: Any) -> DataPacket:
    """Make a packet of levels."""
    return replace(DataPacket(cid, "Boathouse", universe, b"\1\2\3", sequence), **more)


def terminated(packet: DataPacket) -> DataPacket:
    """Mark a packet as its stream's end."""
    return replace(packet, options=Options.STREAM_TERMINATED)


def arrivals(
    datagrams: Sequence[tuple[bytes, str, float]], sent_to: str = GROUP, dropped: int = 0
) -> Arrivals:
    """Return datagrams, with who sent them and when they were heard, as arrays; cut as a socket cuts them."""
    count = len(datagrams)
    # What is beyond a datagram's end is whatever was there before.
    octets = np.full((count, ROW_OCTETS), 0xA5, np.uint8)
    names = np.zeros((count, NAME_OCTETS), np.uint8)
    for row, (payload, address, _) in enumerate(datagrams):
        kept = payload[:ROW_OCTETS]
        octets[row, : len(kept)] = np.frombuffer(kept, np.uint8)
        if ":" in address:
            name = struct.pack("=H6x16s4x", socket.AF_INET6, socket.inet_pton(socket.AF_INET6, address))
        else:
            name = struct.pack("=H2x4s8x", socket.AF_INET, socket.inet_aton(address))
        names[row, : len(name)] = np.frombuffer(name, np.uint8)
    lengths = np.array([min(len(payload), ROW_OCTETS) for payload, _, _ in datagrams], np.int64)
    heard_s = np.array([heard_s for _, _, heard_s in datagrams])
    destination = np.frombuffer(IPV4_IN_IPV6 + socket.inet_aton(sent_to), np.uint8)
    ports, drops = np.zeros(count, np.uint16), np.full(count, dropped, np.int64)
    return Arrivals(octets, lengths, names, heard_s, np.tile(destination, (count, 1)), ports, drops)


Given = DataPacket | SyncPacket | DiscoveryPacket | ArtDmx | bytes
"""What may arrive: a packet, or any octets."""


class Bench:
    """A table, and the time."""

    def __init__(self, **asked: tuple[int, ...]) -> None:
        self.now = 1000.0
        self.dropped = 0
        """In this machine, before what is given next was queued."""
        self.table = Table({Protocol(name): universes for name, universes in asked.items()}, self.now)

    def give(self, *packets: Given, address: str = ADDRESS, protocol: Protocol | None = None) -> None:
        """Let packets arrive together."""
        payloads = [each if isinstance(each, bytes) else each.encode() for each in packets]
        is_artnet = isinstance(packets[0], ArtDmx)
        meant = protocol or (Protocol.ARTNET if is_artnet else Protocol.E131)
        came = arrivals([(each, address, self.now) for each in payloads], dropped=self.dropped)
        self.table.take(meant, came, self.now)

    def stream(self, packets: Iterable[DataPacket | ArtDmx], every_s: float, address: str = ADDRESS) -> None:
        """Let packets arrive one after another."""
        for packet in packets:
            self.give(packet, address=address)
            self.now += every_s

    def universe(self, number: int = 1, protocol: Protocol = Protocol.E131) -> UniverseHeard:
        """Return what is heard on a universe."""
        heard = self.table.heard([], self.now)
        return next(each for each in heard.universes if (each.protocol, each.universe) == (protocol, number))

    def source(self, number: int = 1, protocol: Protocol = Protocol.E131) -> SourceHeard:
        """Return the only source of a universe."""
        (source,) = self.universe(number, protocol).sources
        return source
