"""Another source is told over a cable, by either IP version, and lasts while the screen shows everything."""

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from uuid import uuid4

import pytest
import sacn

from streamer.display.model import Protocol
from streamer.display.patch import compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.hear.lookout import Lookout
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

LIMIT_S = 30.0
TURN_S = 0.1
SHOWN_S = 5.0
"""Two and a half seconds of silence and a listener's start would end what it does not hear."""
SENDS = """
import socket, sys, time
family = socket.AF_INET6 if ":" in sys.argv[2] else socket.AF_INET
sock = socket.socket(family, socket.SOCK_DGRAM)
index = socket.if_nametoindex(sys.argv[3])
if family == socket.AF_INET6:
    sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, index)
else:
    sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(sys.argv[4]))
packet = bytearray.fromhex(sys.argv[1])
for number in range(60):
    packet[111] = number
    sock.sendto(packet, (sys.argv[2], 5568))
    time.sleep(1.0)
"""


@pytest.fixture(name="own_folder", autouse=True)
def _own_folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    folder = tempfile.mkdtemp(prefix="rw")
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{folder}/r")
    yield
    shutil.rmtree(folder, ignore_errors=True)


def look(lookout: Lookout, is_over: Callable[[float], bool]) -> list[str]:
    """Look until it is over, given the time since the beginning, and return what is told."""
    told: list[str] = []
    began_s = time.monotonic()
    while not is_over(passed_s := time.monotonic() - began_s):
        assert passed_s < LIMIT_S, told
        told += lookout.look(time.monotonic())
        time.sleep(TURN_S)
    return told


@pytest.mark.parametrize("group", ["239.255.0.1", "ff18::8300:1"])
def test_a_slow_source_is_told_and_lasts_while_the_screen_is_shown_everything(cable: Cable, group: str):
    """A run of E1.31 alone has a listener to its port alone, and another to both once everything is shown.

    ANSI E1.31-2018 clause 6.6.2: a picture that stands still comes once a second. The library's packet.
    """
    near, far = cable.near, cable.far
    for host, address in ((near, "fd61::1/64"), (far, "fd61::2/64")):
        host.ip("address", "add", address, "dev", host.interface, "nodad")
    packet = bytes(sacn.DataPacket((7,) * 16, "Boathouse", 1, dmxData=(9,) * 512, priority=120).getBytes())
    words = (sys.executable, "-c", SENDS, packet.hex(), group, far.interface, far.address)
    sender = subprocess.Popen(["ip", "netns", "exec", far.namespace, *words])
    try:
        with near.inside(), closing(Lookout("a test", "beside-1")) as lookout:
            lookout.send(
                compile_patch(display_from_ranges((1,), Protocol.E131, ("multicast",))).streams,
                near.interface,
            )
            lookout.know(str(uuid4()))
            told = look(lookout, lambda _: bool(lookout.briefs))
            assert [each[:56] for each in told] == [
                "Another source sends universe 1: 'Boathouse' at "
                + ("10.61.0." if "." in group else "fd61::2,")
            ]
            (before,) = lookout.briefs
            lookout.show({Protocol.E131: (1,), Protocol.ARTNET: ()}, discover=True)
            assert look(lookout, lambda passed_s: passed_s > SHOWN_S and lookout.heard is not None) == []
            assert lookout.briefs == (before,)
            assert lookout.heard is not None
            assert {each.protocol for each in lookout.heard.sockets} == set(Protocol)
            sender.kill()
            (gone,) = look(lookout, lambda _: not lookout.briefs)
            assert "no longer sends universe 1" in gone
    finally:
        sender.kill()
        sender.wait()
