"""Interfaces and addresses come and go under a stream of 40 frames a second: it is back within 2 s."""

import json
import select
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import numpy as np
import pytest

from streamer.net.batched import open_sender
from streamer.net.interfaces import find_interface
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import Sender, UdpSender
from streamer.net.ways import Way
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

PORT = 5568
FRAME_S = 0.025
BACK_S = 2.0
"""What is promised, from the moment at which the interface is up again."""
PACKETS = np.random.default_rng(1).integers(0, 256, (20, 638), dtype=np.uint8)
ROWS = np.arange(len(PACKETS))
NEAR_IPV6, FAR_IPV6 = "fd61::1", "fd61::2"
FAR_LINK_LOCAL = "fe80::61"
GROUPS = tuple(f"239.255.61.{number}" for number in range(len(PACKETS)))
GROUPS_IPV6 = tuple(f"ff18::8300:{number:x}" for number in range(1, len(PACKETS) + 1))
"""ANSI E1.31-2018 Tables 9-10 to 9-12."""
STREAM_TERMINATED = 0x40
"""ANSI E1.31-2018 clause 6.2.6, in octet 112: Table 6-5."""
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 20
EVERY_HOST = ("10.61.0.2", FAR_IPV6, f"{FAR_LINK_LOCAL}%shed0")


class Stream:
    """A stream from the near host to the far one, on the system's own clock."""

    def __init__(self, cable: Cable, stack: ExitStack) -> None:
        self.cable = cable
        self._stack = stack
        for host in (cable.near, cable.far):
            # A new address may be used at once: how long its host looks for doubles is not ours to prove.
            host.run("sysctl", "-qw", "net.ipv6.conf.default.accept_dad=0")
        cable.unplug()
        self.plug()

    def plug(self) -> None:
        """Make the cable and its interfaces anew, with addresses of both kinds."""
        self.cable.plug()
        for host, addresses in (
            (self.cable.near, [f"{NEAR_IPV6}/64"]),
            (self.cable.far, [f"{FAR_IPV6}/64", f"{FAR_LINK_LOCAL}/64"]),
        ):
            for address in addresses:
                host.ip("address", "add", address, "dev", host.interface, "nodad")

    def sender(self, only: Way | None, *, is_pinned: bool) -> Sender:
        """Open a sender."""
        near = self.cable.near
        with near.inside():
            sender = open_sender(find_interface(near.interface) if is_pinned else None, only=only)
        self._stack.callback(sender.close)
        return sender

    def receiver(self, destinations: tuple[str, ...]) -> UdpReceiver:
        """Listen on the far host, as a controller that has just been switched on."""
        far, by_ipv6 = self.cable.far, ":" in destinations[0]
        groups = destinations if destinations in (GROUPS, GROUPS_IPV6) else ()
        with far.inside():
            interface = find_interface(far.interface)
            return self._stack.enter_context(
                UdpReceiver(PORT, "::" if by_ipv6 else "", groups, interface, is_shared=True)
            )

    def frames(self, sender: Sender, destinations: tuple[str, ...], seconds: float) -> None:
        """Send frames for so long."""
        to = tuple((address, PORT) for address in destinations)
        end_s = time.monotonic() + seconds
        with self.cable.near.inside():
            while time.monotonic() < end_s:
                sender.send(PACKETS, ROWS, to)
                time.sleep(FRAME_S)

    def back_after_s(self, sender: Sender, receiver: UdpReceiver, destinations: tuple[str, ...]) -> float:
        """Send frames until a whole one has arrived, and return how long so many take.

        While this process stands still, on a busy machine, nothing is sent that could arrive.
        """
        arrived: set[bytes] = set()
        for frames in range(1, int(2 * BACK_S / FRAME_S)):
            self.frames(sender, destinations, FRAME_S / 2)
            while select.select([receiver], [], [], 0)[0]:
                arrived |= {each.payload for each in receiver.receive(limit=1000)}
            if arrived == {packet.tobytes() for packet in PACKETS}:
                return frames * FRAME_S
        return float("inf")


@pytest.fixture(name="stream")
def _stream(cable: Cable) -> Iterator[Stream]:
    with ExitStack() as stack:
        yield Stream(cable, stack)


def to_all(address: str) -> tuple[str, ...]:
    """Return the destinations of a frame that goes to one host."""
    return (address,) * len(PACKETS)


DESTINATIONS = [*map(to_all, EVERY_HOST), GROUPS, GROUPS_IPV6]
NAMES = ["IPv4", "IPv6", "link-local", "groups", "IPv6 groups"]


@pytest.mark.parametrize("destinations", DESTINATIONS, ids=NAMES)
@pytest.mark.parametrize("only", [None, Way.SENDMMSG, Way.SENDTO])
def test_an_interface_deleted_and_made_again(stream: Stream, destinations: tuple[str, ...], only: Way | None):
    """As a USB adapter pulled and put back: another index, the same name; nothing raised, all counted."""
    sender, receiver = stream.sender(only, is_pinned=True), stream.receiver(destinations)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S
    assert not sender.counters.errors
    stream.cable.unplug()
    stream.frames(sender, destinations, 0.1)
    lost = dict(sender.counters.errors)
    assert set(lost) <= {"ENODEV", "ENETUNREACH"}
    assert sum(lost.values()) >= len(PACKETS)
    assert sender.complaints
    receiver.close()
    stream.plug()
    receiver = stream.receiver(destinations)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S


@pytest.mark.parametrize("destinations", DESTINATIONS[:3], ids=NAMES[:3])
def test_the_same_where_routes_choose_the_interface(stream: Stream, destinations: tuple[str, ...]):
    """Nothing is held then: the system's routes come back with the interface."""
    sender, receiver = stream.sender(None, is_pinned=False), stream.receiver(destinations)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S
    stream.cable.unplug()
    stream.frames(sender, destinations, 0.1)
    assert set(sender.counters.errors) <= {"ENODEV", "ENETUNREACH"}
    receiver.close()
    stream.plug()
    receiver = stream.receiver(destinations)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S


@pytest.mark.parametrize("destinations", DESTINATIONS, ids=NAMES)
def test_a_seldom_packet_after_the_interface_came_back_is_not_lost(
    stream: Stream, destinations: tuple[str, ...]
):
    """Announcements go once in 10 s: the first after a change must not be the one that finds it out."""
    now_s, near = 0.0, stream.cable.near
    with near.inside(), closing(UdpSender(find_interface(near.interface), clock=lambda: now_s)) as sender:
        stream.cable.unplug()
        stream.plug()
        receiver = stream.receiver(destinations)
        now_s = 10.0
        sender.send_one(b"announcement", (destinations[0], PORT))
    assert select.select([receiver], [], [], BACK_S)[0], "nothing arrived"
    assert not sender.counters.errors


@pytest.mark.parametrize("address", EVERY_HOST)
def test_a_whole_run_goes_on(stream: Stream, address: str):
    """From the command line: the streams are ended in good order, and the errors are told by name."""
    near, destinations = stream.cable.near, (address,)
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        settings = (f"ROPEWALK_RUNTIME_DIR={folder}/r", f"ROPEWALK_CONFIG_DIR={folder}/c")
        asked = ["send", "level", "-u", "1-20", "--to", address, "--interface", near.interface]
        asked += ("--every-frame", "--json")
        command = ("ip", "netns", "exec", near.namespace, "env", *settings, ROPEWALK, *asked)
        receiver = stream.receiver(destinations)
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
            assert select.select([receiver], [], [], LIMIT_S)[0], "it did not begin"
            receiver.close()
            stream.cable.unplug()
            time.sleep(0.2)
            stream.plug()
            receiver = stream.receiver(destinations)
            assert select.select([receiver], [], [], BACK_S)[0], "it did not come back"
            run.send_signal(signal.SIGINT)
            out, told = run.communicate(timeout=LIMIT_S)
    outcome = json.loads(out)
    assert "Traceback" not in told
    assert outcome["ended"]["reason"] == "stopped"
    errors = set(outcome["ended"]["counts"]["errors"])
    # Nobody listens for a moment before the cable goes and after it is back.
    assert errors - {"ECONNREFUSED"}
    assert errors <= {"ENODEV", "ENETUNREACH", "ECONNREFUSED"}
    is_terminated = [each.payload[112] & STREAM_TERMINATED for each in receiver.receive(limit=100_000)]
    assert sum(map(bool, is_terminated)) == 3 * 20


@pytest.mark.parametrize("destinations", DESTINATIONS, ids=NAMES)
def test_another_address(stream: Stream, destinations: tuple[str, ...]):
    """Sockets are bound to no address: the next frame comes from the new one, by the same sockets."""
    near = stream.cable.near
    sender, receiver = stream.sender(None, is_pinned=True), stream.receiver(destinations)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S
    for family, gone in (("-4", near.address), ("-6", NEAR_IPV6)):
        near.ip(family, "address", "del", f"{gone}/{24 if family == '-4' else 64}", "dev", near.interface)
    stream.frames(sender, destinations, 0.1)
    near.ip("address", "add", "10.61.0.77/24", "dev", near.interface)
    near.ip("address", "add", "fd61::77/64", "dev", near.interface, "nodad")
    receiver.receive(limit=10_000)
    assert stream.back_after_s(sender, receiver, destinations) < BACK_S
    with near.inside():
        sender.send_one(b"moved", (destinations[0], PORT))
    assert select.select([receiver], [], [], BACK_S)[0]
    sources = {each.source[0] for each in receiver.receive(limit=10_000)}
    assert not sources & {near.address, NEAR_IPV6}
    assert set(sender.counters.errors) <= {"ENETUNREACH", "EADDRNOTAVAIL"}
