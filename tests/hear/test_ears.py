"""A table with real sockets on loopback: groups joined as asked and announced, drops told."""

import gc
import socket
import time
import weakref
from collections.abc import Iterator
from contextlib import ExitStack
from typing import Any
from uuid import UUID

import pytest

from streamer.display.model import Protocol
from streamer.errors import NetworkError
from streamer.hear import ears as room
from streamer.hear.ears import Ears
from streamer.hear.messages import Heard
from streamer.hear.table import Table
from streamer.net.interfaces import find_interface
from streamer.net.linux import IS_LINUX
from streamer.net.listener import Listener
from streamer.net.receiver import UdpReceiver
from streamer.wire.e131 import DataPacket, discovery_pages, multicast_group
from tests.hear.bench import A
from tests.net.ports import free_port

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="what is promised here is Linux's")

DEFAULT_BUFFER_OCTETS = 106_496
"""The kernel doubles it to 212,992, which is what a socket has that asks for nothing: socket(7)."""
LIMIT_S = 5.0


class Bench:
    """Ears on a port of their own."""

    def __init__(
        self, stack: ExitStack, universes: tuple[int, ...], *, discover: bool = False, **more: Any
    ) -> None:
        self.port = free_port()
        self.table = Table({Protocol.E131: universes}, time.monotonic(), discover=discover)
        self.ears = Ears(self.table, find_interface("127.0.0.1"), **more)
        self.ears.open(stack, [Protocol.E131], {Protocol.E131: self.port})
        self.sender = stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
        self.sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))

    def send(self, payload: bytes, universe: int) -> None:
        """Send to a universe's group."""
        self.sender.sendto(payload, (multicast_group(universe), self.port))

    def listen(self, datagrams: int) -> Heard:
        """Take in what comes until so many datagrams have, and return what is heard."""
        book, limit_s = self.table.books[Protocol.E131], time.monotonic() + LIMIT_S
        while book.datagrams < datagrams:
            assert time.monotonic() < limit_s, f"only {book.datagrams} of {datagrams} came"
            self.ears.wait()
            self.ears.poll()
        return self.table.heard(self.ears.sockets(), time.monotonic())


@pytest.fixture(name="stack")
def _stack() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


def packet(universe: int, sequence: int = 0) -> bytes:
    """Make a packet of levels."""
    return DataPacket(A, "Boathouse", universe, bytes(512), sequence).encode()


def test_a_thousand_universes_are_heard_each_packet_once(stack: ExitStack):
    """A thousand groups, fifty times what one socket may join."""
    universes = tuple(range(1, 1001))
    bench = Bench(stack, universes)
    for sequence in range(3):
        for universe in universes:
            bench.send(packet(universe, sequence), universe)
        heard = bench.listen(1000 * (sequence + 1))
    assert [universe.sources[0].packets for universe in heard.universes] == [3] * 1000
    assert sum(universe.sources[0].lost for universe in heard.universes) == 0
    assert heard.sockets[0].datagrams == 3000


def test_the_groups_of_announced_universes_are_joined_when_that_is_wanted(stack: ExitStack):
    """E1.31-2018 clause 8: the list comes to the group of universe 64214."""
    for discover, wanted in ((True, 4), (False, 2)):
        bench = Bench(stack, (1,), discover=discover)
        for page in discovery_pages(UUID(int=2), "Boathouse", (58_001, 58_002)):
            bench.send(page.encode(), 64_214)
        bench.listen(1)
        bench.ears.join(time.monotonic())
        assert bench.ears.sockets()[0].groups == wanted


def test_packets_dropped_for_want_of_buffer_are_told_and_how_many(stack: ExitStack):
    """With the default buffer a burst of a thousand does not fit; what came and what was dropped make all."""
    bench = Bench(stack, (1,), buffer_octets=DEFAULT_BUFFER_OCTETS)
    # Privilege would grant more than is asked for by default; this is what everybody gets.
    for sequence in range(1000):
        bench.send(packet(1, sequence % 256), 1)
    heard = bench.listen(1)
    (told,) = heard.sockets
    assert told.buffer_octets == 2 * DEFAULT_BUFFER_OCTETS
    assert told.dropped
    assert told.datagrams + told.dropped == 1000
    assert heard.notes[0].startswith(f"{told.dropped} E1.31 datagrams were dropped in this machine")


def test_what_a_source_lost_is_put_down_to_this_machine_where_this_machine_dropped_it(stack: ExitStack):
    """The wire of loopback loses nothing but the three that are never sent."""
    bench = Bench(stack, (1,), buffer_octets=DEFAULT_BUFFER_OCTETS)
    bench.send(packet(1, 0), 1)
    bench.send(packet(1, 4), 1)
    (source,) = bench.listen(2).universes[0].sources
    assert (source.lost, source.lost_here) == (3, 0)
    # Fewer numbers are missing than there are before they begin again.
    for sequence in range(5, 255):
        bench.send(packet(1, sequence), 1)
    bench.ears.poll()
    bench.send(packet(1, 255), 1)
    heard = bench.listen(bench.table.books[Protocol.E131].datagrams + 1)
    (source,), (told,) = heard.universes[0].sources, heard.sockets
    assert told.dropped
    assert (source.lost, source.lost_here) == (3 + told.dropped, told.dropped)


def test_a_receiver_may_come_after_the_listener(stack: ExitStack):
    """A yard that starts later gets what is sent to it; the listener goes on hearing groups."""
    bench = Bench(stack, (1,))
    receiver = stack.enter_context(UdpReceiver(bench.port, "127.0.0.1"))
    bench.sender.sendto(b"to the yard", ("127.0.0.1", bench.port))
    bench.send(packet(1), 1)
    assert len(bench.listen(1).universes[0].sources) == 1
    assert [each.payload for each in receiver.receive(9)] == [b"to the yard"]


def test_what_is_asked_for_later_is_joined_without_a_gap_in_the_rest(stack: ExitStack):
    """Not one packet of the first universe is missing while others are joined."""
    bench = Bench(stack, (58_101,))
    for sequence in range(50):
        bench.send(packet(58_101, sequence), 58_101)
        bench.table.ask(Protocol.E131, (58_101, *range(58_200, 58_200 + sequence)))
        bench.ears.join(time.monotonic())
    bench.send(packet(58_230), 58_230)
    heard = bench.listen(51)
    counts = {each.universe: each.sources[0].packets for each in heard.universes if each.sources}
    assert counts == {58_101: 50, 58_230: 1}


@pytest.mark.parametrize("refused", [(Protocol.E131,), (Protocol.ARTNET,), tuple(Protocol)])
def test_a_refusal_is_told_and_let_go_of_without_collecting_garbage(
    stack: ExitStack, monkeypatch: pytest.MonkeyPatch, refused: tuple[Protocol, ...]
):
    """What one protocol hears goes on; where none can be heard the last refusal is raised."""
    ports = {Protocol.E131: free_port(), Protocol.ARTNET: free_port()}
    made: list[weakref.ref[NetworkError]] = []

    def listen(port: int, *words: Any, **more: Any) -> Listener:
        if port in [ports[each] for each in refused]:
            error = NetworkError("is taken", f"port {port}", "End it")
            made.append(weakref.ref(error))
            try:
                raise error
            finally:
                del error
        return Listener(port, *words, **more)

    monkeypatch.setattr(room, "Listener", listen)
    ears = Ears(Table({}, time.monotonic()), find_interface("127.0.0.1"))
    gc.disable()
    try:
        if len(refused) == len(Protocol):
            with pytest.raises(NetworkError, match=f"port {ports[Protocol.ARTNET]}"):
                ears.open(stack, Protocol, ports)
        else:
            ears.open(stack, Protocol, ports)
            assert [each() for each in made] == [None]
    finally:
        gc.enable()
    assert len(ears.troubles) == len(refused)
    assert set(ears.listeners) == set(Protocol) - set(refused)
