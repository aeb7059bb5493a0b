"""Every octet that a run sends, against octets written by hand; none of our codecs reads them.

Sources: ANSI E1.31-2018, tables and clauses beside each row; Art-Net 4, ArtDmx.
"""

import socket
import struct
from typing import Any
from uuid import UUID

import pytest

from streamer.display.model import MULTICAST, Controller, Display, Port, Protocol, Segment
from streamer.engine.engine import Run
from streamer.engine.messages import Play, Setup, Show
from streamer.engine.outlet import Outlet, open_outlet
from streamer.engine.source import Source
from streamer.net.linux import IS_LINUX
from streamer.net.sender import RecordingSender, Sender

CID = UUID("3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f")
NAME = "Bootshaus Süd"
FRAMES = 12
FRAME_S = 0.025
IP_RECVTTL = 12
"""Linux, ip(7)."""


def controller(name: str, protocol: Protocol, address: str, universe: int, **settings: Any) -> Controller:
    """Return a controller with two red nodes on one universe."""
    port = Port(name=f"{name}/1", number=1, universe=universe, segments=(Segment(nodes=2),))
    return Controller(name=name, protocol=protocol, address=address, ports=(port,), **settings)


JETTY = controller(
    "jetty",
    Protocol.E131,
    "127.0.0.2",
    300,
    slots=7,
    priority=117,
    sync_address=7001,
    preview=True,
    start_code=0xDD,
)
BOATHOUSE = controller(
    "boathouse", Protocol.E131, MULTICAST, 63999, slots=7, priority=0, force_synchronization=True
)
SLIPWAY = controller("slipway", Protocol.ARTNET, "127.0.0.3", 1443, slots=8, physical=3)
WINCH = controller("winch", Protocol.ARTNET, "127.0.0.3", 32767, slots=8, physical=255, sequence=False)
DISPLAY = Display(name="lake", controllers=(JETTY, BOATHOUSE, SLIPWAY, WINCH))

RED = "ff0000ff0000"
DARK = "000000000000"
NAME_FIELD = "426f6f7473686175732053c3bc64" + "00" * 50
ROOT = "00100000" + "4153432d45312e3137000000"  # 5.1 to 5.3


def e131_data(framing: str, start_code: str, slots: str) -> str:
    """Write a data packet of 133 octets, 7 slots: Tables 4-1, 5-4, 6-5 and 7-8."""
    lengths = "7075", "705f", "7012"  # 133 - 16, 133 - 38, 133 - 115: clauses 5.4, 6.1, 7.1
    root = ROOT + lengths[0] + "00000004" + CID.hex
    dmp = lengths[2] + "02" + "a1" + "0000" + "0001" + "0008" + start_code
    return root + lengths[1] + "00000002" + NAME_FIELD + framing + dmp + slots + "00"


def jetty(sequence: int, options: str, slots: str) -> str:
    """Priority 117, synchronization address 7001, universe 300: Table 6-5."""
    return e131_data("75" + "1b59" + format(sequence, "02x") + options + "012c", "dd", slots)


def boathouse(sequence: int, options: str, slots: str) -> str:
    """Priority 0, not synchronized, universe 63999: Table 6-5."""
    return e131_data("00" + "0000" + format(sequence, "02x") + options + "f9ff", "00", slots)


ARTDMX = "4172742d4e657400" + "0050" + "000e"  # ID; OpCode, low octet first; ProtVer, high octet first


def slipway(sequence: int, slots: str) -> str:
    """Art-Net 4, ArtDmx: Physical 3, Port-Address 1443 low octet first, Length 8 high octet first."""
    return ARTDMX + format(sequence, "02x") + "03" + "a305" + "0008" + slots + "0000"


def winch(slots: str) -> str:
    """Art-Net 4, ArtDmx: Sequence 0 is ordering off; Physical 255, Port-Address 32767."""
    return ARTDMX + "00" + "ff" + "ff7f" + "0008" + slots + "0000"


DISCOVERY = (  # 126 octets: Tables 4-3, 6-7 and 8-9; the universe of synchronization is listed too (8)
    ROOT + "706e" + "00000008" + CID.hex + "7058" + "00000002" + NAME_FIELD + "00000000"
    "700e" + "00000001" + "00" + "00" + "012c" + "1b59" + "f9ff"
)


def synchronization(sequence: int) -> str:
    """49 octets, for address 7001: Tables 4-2 and 6-6."""
    return (
        ROOT + "7021" + "00000008" + CID.hex + "700b" + "00000001" + format(sequence, "02x") + "1b59" + "0000"
    )


def everything_sent() -> tuple[RecordingSender, RecordingSender]:
    """Play red from the first frame to the last terminated packet, under a clock of our own."""
    data, discovery = RecordingSender(), RecordingSender()
    play = Play(
        setup=Setup(display=DISPLAY, source_name=NAME, seconds=FRAMES * FRAME_S),
        show=Show(pattern="level", params={"colour": "red"}, level_percent=100),
    )
    run = Run(play, Source(CID), lambda _: Outlet(data, (discovery,), ""), 0.0)
    run.begin()
    now_s = 0.0
    while not run.is_over:
        run.tick(now_s)
        now_s = max(now_s, run.wake_s)
    return data, discovery


def test_a_run_sends_these_octets_and_no_others():
    """Red once and three times more (6.6.2), dark likewise, then three terminated packets (6.2.6)."""
    sent, _ = everything_sent()
    to: dict[tuple[str, int], list[str]] = {}
    for octets, destination in sent.sent:
        to.setdefault(destination, []).append(octets.hex())
    lit_then_dark = [RED] * 4 + [DARK] * 4
    assert to.pop(("127.0.0.2", 5568)) == [
        *(jetty(number, "80", slots) for number, slots in enumerate(lit_then_dark, start=1)),
        *(jetty(number, "c0", DARK) for number in (9, 10, 11)),
    ]
    assert to.pop(("239.255.249.255", 5568)) == [  # Table 9-10
        *(boathouse(number, "20", slots) for number, slots in enumerate(lit_then_dark, start=1)),
        *(boathouse(number, "60", DARK) for number in (9, 10, 11)),
    ]
    artnet = to.pop(("127.0.0.3", 6454))
    assert artnet[0::2] == [slipway(number, slots) for number, slots in enumerate(lit_then_dark, start=1)]
    assert artnet[1::2] == [winch(slots) for slots in lit_then_dark]
    assert to == {}


def test_a_run_announces_its_universes_in_these_octets():
    """One packet at its start, to the group of universe 64214 and not elsewhere (4.3, Table 9-10)."""
    _, discovery = everything_sent()
    announced = [each for each in discovery.sent if each[1] != ("239.255.27.89", 5568)]
    assert [(octets.hex(), destination) for octets, destination in announced] == [
        (DISCOVERY, ("239.255.250.214", 5568))
    ]


def test_a_run_synchronizes_in_these_octets():
    """One after each packet for 7001, dark and terminated ones too, numbered apart from them (6.3)."""
    _, discovery = everything_sent()
    assert [octets.hex() for octets, destination in discovery.sent if destination[0] == "239.255.27.89"] == [
        synchronization(number) for number in range(1, 12)
    ]


def time_to_live_heard(sender: Sender, group: str) -> int:
    """Return the time to live with which a datagram to a group arrives at a plain socket of this machine."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as plain:
        plain.bind((group, 0))
        lo = struct.pack("4s4si", socket.inet_aton(group), bytes(4), socket.if_nametoindex("lo"))
        plain.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, lo)
        plain.setsockopt(socket.IPPROTO_IP, IP_RECVTTL, 1)
        plain.settimeout(2)
        sender.send_one(b"to the group", plain.getsockname())
        _, ancillary, _, _ = plain.recvmsg(100, 100)
    (ttl,) = (struct.unpack("=i", octets)[0] for _, kind, octets in ancillary if kind == socket.IP_TTL)
    return int(ttl)


@pytest.mark.skipif(not IS_LINUX, reason="the loopback interface is called lo")
@pytest.mark.parametrize("ttl", [1, 7])
def test_levels_and_announcements_go_as_many_hops_as_asked(ttl: int):
    """RFC 1112 clause 6.1; ANSI E1.31-2018 asks for no number of its own."""
    outlet = open_outlet(Setup(display=DISPLAY, interface="lo", ttl=ttl))
    heard = {time_to_live_heard(sender, "239.255.250.214") for sender in (outlet.data, *outlet.discovery)}
    outlet.close()
    assert heard == {ttl}
