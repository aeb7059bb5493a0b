"""The library `stupidArtnet` hears from us what we said, and we from it what it said, on loopback only."""

import _thread
import queue
import socket
import time
from collections.abc import Callable, Iterator

import pytest
from stupidArtnet import StupidArtnet, StupidArtnetServer

from streamer.wire import artnet, lay_out
from streamer.wire.artnet import ArtDmx

LOOPBACK = "127.0.0.1"
TIMEOUT_S = 5.0
POLL_S = 0.002
PORT_ADDRESS = 1443  # Net 5, Sub-Net 10, Universe 3


def wait_until(is_so: Callable[[], bool]) -> None:
    """Wait for the library's thread, which offers no event to wait on."""
    end = time.monotonic() + TIMEOUT_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(POLL_S)


def bound_port(server: StupidArtnetServer) -> int:
    """Return the server's port; 0 while its thread has not bound it."""
    return server.socket_server.getsockname()[1] if server.socket_server else 0


@pytest.fixture
def heard() -> Iterator[tuple[int, queue.Queue[list[int]]]]:
    """Run the library's server for one Port-Address on a free port, and queue what it hears."""
    slots: queue.Queue[list[int]] = queue.Queue()
    threads = _thread._count()
    server = StupidArtnetServer(port=0)

    def hear(data: list[int]) -> None:
        slots.put(data)

    server.register_listener(universe=3, sub=10, net=5, is_simplified=False, callback_function=hear)
    wait_until(lambda: bound_port(server) > 0)
    yield bound_port(server), slots
    server.close()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(b"wake up and end", (LOOPBACK, bound_port(server)))
    wait_until(lambda: _thread._count() <= threads)
    server.socket_server.close()
    server.listeners.clear()


def test_the_library_receives_the_slots_that_we_send(heard: tuple[int, queue.Queue[list[int]]]):
    """Art-Net 4, ArtDmx: numbered from 1 to 255 and on from 1, over a real socket."""
    port, slots = heard
    packet = lay_out.artdmx(PORT_ADDRESS, 510, 0, 2)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        for frame in range(260):
            packet[artnet.SEQUENCE_OCTET] = frame % 255 + 1
            packet[artnet.SLOTS_OCTET] = frame % 256
            sender.sendto(packet, (LOOPBACK, port))
            assert slots.get(timeout=TIMEOUT_S) == [frame % 256] + [0] * 509


def test_the_library_hears_only_its_port_address(heard: tuple[int, queue.Queue[list[int]]]):
    """Net, Sub-Net and Universe are where it looks for them: of five addresses one is its own."""
    port, slots = heard
    others = [PORT_ADDRESS + 1, PORT_ADDRESS + 16, PORT_ADDRESS - 256, 3]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        for port_address in [*others, PORT_ADDRESS]:
            sender.sendto(ArtDmx(port_address, b"\7\7" * 3).encode(), (LOOPBACK, port))
    assert slots.get(timeout=TIMEOUT_S) == [7] * 6
    assert slots.empty()


@pytest.mark.parametrize("port_address", [0, 19, 300, 32767])
def test_we_receive_what_the_library_sends(port_address: int):
    """Its sender, over a real socket."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind((LOOPBACK, 0))
        receiver.settimeout(TIMEOUT_S)
        sender = StupidArtnet(LOOPBACK, port_address, 6, port=receiver.getsockname()[1])
        sender.set(bytearray([1, 2, 3, 4, 5, 6]))
        sender.show()
        sender.close()
        assert artnet.parse(receiver.recv(1024)) == ArtDmx(port_address, bytes([1, 2, 3, 4, 5, 6]))


def test_we_receive_the_librarys_synchronization():
    """ArtSync, 14 octets."""
    sender = StupidArtnet(LOOPBACK, artsync=True)
    sender.close()
    assert artnet.parse(sender.artsync_header) == artnet.ArtSync()
    assert bytes(sender.artsync_header) == artnet.ArtSync().encode()
