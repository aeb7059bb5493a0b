"""Scanning over a cable: two devices that a test plays, at addresses of their own, answering a broadcast."""

import select
import socket
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

import pytest

from streamer.net.interfaces import find_interface
from streamer.net.receiver import UdpReceiver
from streamer.scan.found import Found
from streamer.scan.watching import watch
from streamer.scan.wish import Wish
from streamer.wire import artnet
from tests.rig.cable import Cable
from tests.scan.replies import outputs

pytestmark = pytest.mark.rig

SECOND = "10.61.0.3"
SILENT = "10.61.0.4"
EVERYBODY = "10.61.0.255"
SECONDS = 1.5
LIMIT_S = 20.0
BOTH = {"10.61.0.2": 8, SECOND: 1}


class Device(threading.Thread):
    """Answers every poll with its replies, to port 6454 of whoever asked, from its own address."""

    def __init__(self, address: str, replies: list[bytes], stack: ExitStack) -> None:
        super().__init__(daemon=True)
        self._replies = replies
        self._over = threading.Event()
        self.polls: list[tuple[bytes, tuple[str, int], str]] = []
        self._own = self._socket(address, stack)
        self._all = self._socket(EVERYBODY, stack)
        self._names = {self._own: address, self._all: EVERYBODY}

    @staticmethod
    def _socket(address: str, stack: ExitStack) -> socket.socket:
        sock = stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        sock.bind((address, artnet.PORT))
        return sock

    def run(self) -> None:
        """Answer until it is over."""
        while not self._over.is_set():
            for sock in select.select([self._own, self._all], [], [], 0.05)[0]:
                octets, source = sock.recvfrom(2048)
                self.polls.append((octets, source, self._names[sock]))
                for reply in self._replies:
                    self._own.sendto(reply, (source[0], artnet.PORT))

    def end(self) -> None:
        """Wait for its end."""
        self._over.set()
        self.join()


@contextmanager
def devices(cable: Cable) -> Iterator[list[Device]]:
    """Play two devices at the far end: one with two bind indexes, one with one."""
    far = cable.far
    with ExitStack() as stack:
        far.ip("address", "add", f"{SECOND}/24", "dev", far.interface)
        with far.inside():
            own = {"ip": bytes([10, 61, 0, 2]), "bind_ip": bytes([10, 61, 0, 2])}
            eight = [outputs(0, 1, 2, 3, bind=1, **own), outputs(4, 5, 6, 7, bind=2, **own)]
            first = Device(far.address, eight, stack)
            second = Device(SECOND, [outputs(9, ip=bytes([10, 61, 0, 3]), short_name=b"barn")], stack)
        playing = [first, second]
        for each in playing:
            each.start()
        try:
            yield playing
        finally:
            for each in playing:
                each.end()


def scan(wish: Wish) -> Found:
    """Return the last of what is found, where something is to be told of it."""
    *_, last = watch(wish, SECONDS, lambda: False)
    return last


def scan_until(wish: Wish, outputs: dict[str, int]) -> Found:
    """Return what is found once these devices are, by their addresses, with so many outputs."""
    found: list[Found] = []

    def is_found() -> bool:
        devices = found[-1].devices if found else ()
        return {each.address: len(each.outputs) for each in devices} == outputs

    # One by one, as each is asked about.
    found.extend(watch(wish, LIMIT_S, is_found))
    return found[-1]


def test_two_devices_answer_a_broadcast_and_are_joined(cable: Cable):
    """By the network's broadcast address, from port 6454, once in 2.5 s; two replies are one device."""
    with devices(cable) as (first, second), cable.near.inside():
        found = scan_until(Wish(find_interface(cable.near.interface)), BOTH)
    assert found.broadcasts == (EVERYBODY,)
    assert [(each.address, each.source, len(each.outputs)) for each in found.devices] == [
        ("10.61.0.2", "10.61.0.2", 8),
        (SECOND, SECOND, 1),
    ]
    assert found.notes == ()
    for device in (first, second):
        assert 1 <= len(device.polls) <= found.polls <= 1 + found.seconds / 2.5
        for octets, source, to in device.polls:
            assert (octets[8:10], len(octets)) == (b"\x00\x20", 22)
            assert source == (cable.near.address, artnet.PORT)
            assert to == EVERYBODY


def test_a_planned_address_is_asked_by_itself_too_and_silence_there_is_no_error(cable: Cable):
    """In targeted mode; nobody is at the other address."""
    with devices(cable) as (_, second), cable.near.inside():
        found = scan_until(Wish(find_interface(cable.near.interface), (SECOND, SILENT)), BOTH)
    assert [each.address for each in found.devices] == ["10.61.0.2", SECOND]
    polls = Counter((to, octets[12]) for octets, _, to in second.polls)
    assert set(polls) == {(EVERYBODY, 0), (SECOND, 0x20)}
    assert max(polls.values()) <= found.polls <= 1 + found.seconds / 2.5


def test_beside_a_program_that_holds_the_port_devices_are_heard_all_the_same(cable: Cable):
    """It holds loopback alone, as a yard does."""
    with devices(cable), cable.near.inside(), UdpReceiver(artnet.PORT):
        found = scan_until(Wish(find_interface(cable.near.interface)), BOTH)
    assert [each.address for each in found.devices] == ["10.61.0.2", SECOND]
    assert found.notes == ()


def test_who_takes_the_devices_answers_is_told(cable: Cable):
    """A program that holds the port at every address gets them."""
    with devices(cable), cable.near.inside(), UdpReceiver(artnet.PORT, "") as other:
        found = scan(Wish(find_interface(cable.near.interface)))
        assert other.receive(100)
    assert found.devices == ()
    assert len(found.notes) == 1
    assert "held by process" in found.notes[0]


def test_a_cable_that_is_out_is_told(cable: Cable):
    """In words, with what to do; nothing raises."""
    with cable.near.inside():
        interface = find_interface(cable.near.interface)
        cable.near.ip("link", "set", cable.near.interface, "down")
        found = scan(Wish(interface))
    assert found.devices == ()
    assert found.notes
    assert EVERYBODY in found.notes[0]
