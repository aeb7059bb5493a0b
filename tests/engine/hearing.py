"""Receivers on this machine's loopback, for what an engine in a process of its own really sends."""

import itertools
import os
import select
import socket
import time
from collections import Counter

from streamer.display.model import Display, Protocol
from streamer.display.patch import StreamKey
from streamer.wire import artnet, e131
from tests.engine.bench import Sent, assert_unbroken, boathouse
from tests.stamped import arrived, stamping

PORTS = {Protocol.E131: e131.PORT, Protocol.ARTNET: artnet.PORT}


LIMIT_S = 20
STREAMS, REPEATS = 3, 3
"""Of the boathouse; levels that stand still are sent so often again (ANSI E1.31-2018 clause 6.6.2)."""
numbers = itertools.count()


class Hearing:
    """Receivers at an address of its own, and what they have heard."""

    def __init__(self) -> None:
        # Another address of 127.0.0.0/8 for each: tests that run at the same time hear only their own.
        self.address = f"127.{os.getpid() % 200 + 20}.{os.getpid() // 200 % 250}.{next(numbers) + 1}"
        self.sockets = [_patiently(port, self.address) for port in PORTS.values()]
        self.octets: list[tuple[float, bytes]] = []
        """Each with when the kernel took it in, by the steady clock."""

    def display(self) -> Display:
        """Return the boathouse with its controllers at this address."""
        at_home = boathouse()
        moved = tuple(each.model_copy(update={"address": self.address}) for each in at_home.controllers)
        return at_home.model_copy(update={"controllers": moved})

    def listen(self, seconds: float) -> None:
        """Take in what arrives within so many seconds."""
        limit_s = time.monotonic() + seconds
        while (left_s := limit_s - time.monotonic()) > 0:
            for sock in select.select(self.sockets, [], [], left_s)[0]:
                steady_s = time.monotonic() - time.time()
                self.octets += [(each.unix_s + steady_s, each.octets) for each in arrived(sock)]

    def listen_until_lit(self) -> None:
        """Take in what arrives until all three streams have sent their first levels and repeated them."""
        limit_s = time.monotonic() + LIMIT_S
        while not self._is_repeated():
            assert time.monotonic() < limit_s, "no levels were sent"
            self.listen(0.05)

    def _is_repeated(self) -> bool:
        packets = Counter(packet.key for packet in self.packets())
        return len(packets) == STREAMS and min(packets.values()) > REPEATS

    def listen_until_silent(self) -> list[Sent]:
        """Take in everything until nothing has come for longer than a keep-alive; return it, parsed."""
        heard = -1
        while heard != len(self.octets):
            heard = len(self.octets)
            self.listen(1.1)
        return self.packets()

    def packets(self) -> list[Sent]:
        """Return what has been heard, read by the codecs."""
        return [parse(octets, self.address, at_s) for at_s, octets in self.octets]


def _patiently(port: int, address: str) -> socket.socket:
    """Bind a port, though a test that runs at the same time may hold it at every address for a while."""
    limit_s = time.monotonic() + 20
    while True:
        try:
            return stamping(address, port)
        except OSError:
            if time.monotonic() > limit_s:
                raise
            time.sleep(0.2)


def parse(octets: bytes, address: str, at_s: float) -> Sent:
    """Read a packet of any CID."""
    if octets.startswith(b"Art-Net"):
        dmx = artnet.parse(octets)
        assert isinstance(dmx, artnet.ArtDmx)
        return Sent(
            at_s, StreamKey(Protocol.ARTNET, address, dmx.port_address), dmx.sequence, dmx.slots, False
        )
    data = e131.parse(octets)
    assert isinstance(data, e131.DataPacket)
    key = StreamKey(Protocol.E131, address, data.universe)
    return Sent(at_s, key, data.sequence, data.slots, e131.Options.STREAM_TERMINATED in data.options)


def assert_ended_well(packets: list[Sent]) -> None:
    """Every stream went dark, and every E1.31 stream was terminated by its last three packets."""
    assert_unbroken(packets)
    keys = {packet.key for packet in packets}
    assert len(keys) == 3
    for key in keys:
        of_it = [packet for packet in packets if packet.key == key]
        assert any(of_it[0].slots) or key.protocol is Protocol.ARTNET
        assert not any(of_it[-1].slots)
        wanted = [False] * 4 + [True] * 3 if key.protocol is Protocol.E131 else [False] * 7
        assert [packet.is_terminated for packet in of_it[-7:]] == wanted
        assert not any(any(packet.slots) for packet in of_it[-4:])
