"""`ropewalk send --sync` and `--art-sync`: what arrives on loopback, and what is refused.

ANSI E1.31-2018 clauses 6.2.4, 6.3, 8 and 11; Art-Net 4, ArtSync. The octets are written by hand.
"""

import queue
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest
import sacn

from streamer.net.interfaces import find_interface
from streamer.net.linux import IS_LINUX
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.wire import artnet, e131
from tests.cli.conftest import ADDRESS, LIMIT_S, run

pytestmark = pytest.mark.skipif(not IS_LINUX, reason="one socket hears an address and groups, on Linux")

GROUP = "239.255.27.89"
"""Of universe 7001: Table 9-10."""
DISCOVERY_GROUP = "239.255.250.214"
WHOLE = ("--to", ADDRESS, "--seconds", "0.6")
"""Lit levels and their three repeats take a tenth of it."""
FILE = """
name = "boathouse"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"
[[controllers.ports]]
number = 1
universe = 1
nodes = 50
[[controllers]]
name = "slipway"
protocol = "artnet"
address = "127.0.0.1"
[[controllers.ports]]
number = 1
port_address = 1
nodes = 50
"""


@pytest.fixture(name="ear")
def _ear() -> Iterator[UdpReceiver]:
    """Hear levels, synchronization and discovery by one socket, so that their order is known."""
    with UdpReceiver(e131.PORT, ADDRESS, (GROUP, DISCOVERY_GROUP), find_interface("lo")) as receiver:
        yield receiver


def synchronization(cid: bytes, sequence: int) -> bytes:
    """49 octets for address 7001: Tables 4-2 and 6-6."""
    root = bytes.fromhex("00100000" + "4153432d45312e3137000000" + "7021" + "00000008") + cid
    return root + bytes.fromhex("700b" + "00000001" + format(sequence, "02x") + "1b59" + "0000")


def to(heard: list[Datagram], address: str) -> list[bytes]:
    """Return the payloads that were sent to an address."""
    return [each.payload for each in heard if each.destination == address]


def test_e131_levels_name_the_universe_and_its_packet_follows_each_frame(ear: UdpReceiver):
    """Levels to one address, synchronization to the group (6.3.3.1), each numbered by itself (6.3.2)."""
    done = run("send", "level", "-u", "1-2", "--sync", "7001", "--sync-gap", "5", *WHOLE)
    assert done.code == 0, done.err
    assert f"Synchronized 5 ms after a frame's last packet: universe 7001, by its group {GROUP}." in done.out
    heard = [each for each in ear.receive(1000) if each.destination != DISCOVERY_GROUP]
    levels = to(heard, ADDRESS)
    assert {struct.unpack(">H", each[109:111])[0] for each in levels} == {7001}, "6.2.4, octet 109"
    cid = levels[0][22:38]
    released = to(heard, GROUP)
    assert released == [synchronization(cid, number) for number in range(1, len(released) + 1)]
    # Lit and three repeats, dark and three repeats, three terminated packets: 11 pairs, and one after each.
    assert [each.destination == GROUP for each in heard] == [False, False, True] * 11


def test_discovery_lists_the_universe_of_synchronization(ear: UdpReceiver):
    """Clause 8: all universes that the source sends levels or synchronization on, in order."""
    run("send", "level", "-u", "9,7002", "--sync", "7001", *WHOLE)
    (listed, *_) = to(ear.receive(1000), DISCOVERY_GROUP)
    assert struct.unpack(">3H", listed[120:]) == (9, 7001, 7002)


def test_the_library_hears_which_universe_synchronizes():
    """`sacn` takes no synchronization packets, but reads the address (6.2.4)."""
    packets: queue.Queue[sacn.DataPacket] = queue.Queue()
    receiver = sacn.sACNreceiver(bind_address=ADDRESS)
    receiver.register_listener("universe", packets.put, universe=1)
    receiver.start()
    try:
        assert run("send", "level", "-u", "1", "--sync", "7001", *WHOLE).code == 0
        packet = packets.get(timeout=LIMIT_S)
    finally:
        receiver.stop()
    assert (packet.universe, packet.syncAddr, packet.option_ForceSync) == (1, 7001, False)


def test_artsync_is_broadcast_after_each_frame():
    """Art-Net 4, ArtSync: 14 octets by directed broadcast, never to a node; from the levels' address."""
    with UdpReceiver(artnet.PORT, "127.255.255.255") as everybody, UdpReceiver(artnet.PORT, ADDRESS) as node:
        done = run("send", "level", "-u", "0-1", "--protocol", "artnet", "--art-sync", "--json", *WHOLE)
        syncs, levels = everybody.receive(1000), node.receive(1000)
    assert done.json["synchronization"] == "ArtSync by broadcast to 127.255.255.255"
    assert done.json["ended"]["counts"]["synchronizations"] == len(syncs)
    assert {each.payload for each in syncs} == {bytes.fromhex("4172742d4e657400" + "0052" + "000e" + "0000")}
    assert {each.payload[8:10] for each in levels} == {b"\x00\x50"}, "nothing but ArtDmx"
    assert len(levels) == 2 * len(syncs) == 16
    assert {each.source[0] for each in syncs} == {each.source[0] for each in levels}


def test_a_display_file_is_synchronized_by_protocol(ear: UdpReceiver, tmp_path: Path):
    """Both options at once on a file of both protocols, with neither in it."""
    file = tmp_path / "display.toml"
    file.write_text(FILE)
    asked = ("--sync", "7001", "--art-sync", "--json", "--seconds", "0.6")
    done = run("send", "level", file, *asked)
    assert done.code == 0, done.err
    assert done.json["synchronization"] == (
        f"universe 7001, by its group {GROUP}; ArtSync by broadcast to 127.255.255.255"
    )
    assert len(to(ear.receive(1000), GROUP)) == 11


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--sync", "0"), "--sync: 0 is no universe to synchronize by, which says 'not synchronized'."),
        (("--sync", "64000"), "--sync: 64000 is no universe to synchronize by. Write one from 1 to 63999"),
        (("--sync", "-1"), "--sync: -1 is no universe"),
        (("--sync", "7", "--protocol", "artnet"), "Write --art-sync instead"),
        (("--art-sync",), "E1.31 is not synchronized by ArtSync"),
        (("--sync-gap", "2"), "--sync-gap: nothing is synchronized. Write --sync UNIVERSE"),
        (("--sync", "7", "--sync-gap", "20.1"), "Write 0 to 20"),
        (("--sync", "7", "--sync-gap", "-1"), "Write 0 to 20"),
    ],
)
def test_what_makes_no_sense_is_refused_in_a_sentence(words: tuple[str, ...], says: str):
    """With what to write instead, exit code 2, before anything is sent."""
    done = run("send", "level", "-u", "1", *words, *WHOLE)
    assert done.code == 2
    assert says in done.err
    assert done.out == ""


def test_where_nothing_can_be_broadcast_artsync_is_refused_aloud():
    """A controller beyond a router, or one that no interface leads to: never silently without."""
    words = ("--protocol", "artnet", "--art-sync", "--to", "203.0.113.9", "--interface", "lo")
    done = run("send", "level", "-u", "1", *words)
    assert done.code == 1
    assert "controller at 203.0.113.9: it is in no network of this machine's" in done.err
