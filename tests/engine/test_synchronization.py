"""When synchronization packets go: after a frame's last packet and a gap, and only where levels went.

ANSI E1.31-2018 clauses 6.3 and 11.2.2; Art-Net 4, ArtSync. The octets are written by hand.
"""

from typing import Any

import pytest

from streamer.display.model import Controller, Display, Protocol
from streamer.engine.engine import Run
from streamer.engine.messages import Play, Setup, Show
from streamer.engine.outlet import Broadcast, Outlet
from streamer.engine.source import Source
from streamer.net.destinations import Destination
from streamer.net.sender import Packet, RecordingSender
from tests.engine.bench import CID, port

GROUP = ("239.255.27.89", 5568)
"""Of universe 7001: Table 9-10."""
EVERYBODY = ("10.61.0.255", 6454)
ART_SYNC = bytes.fromhex("4172742d4e657400" + "0052" + "000e" + "0000")
"""Art-Net 4, ArtSync: ID; OpCode, low octet first; ProtVer, high octet first; Aux1 and Aux2."""


def synchronization(sequence: int) -> bytes:
    """49 octets for address 7001: Tables 4-2 and 6-6."""
    root = "00100000" + "4153432d45312e3137000000" + "7021" + "00000008" + CID.hex
    return bytes.fromhex(root + "700b" + "00000001" + format(sequence, "02x") + "1b59" + "0000")


OnTheWire = tuple[float, Destination, bytes]
"""The moment, where to, and the packet."""


class Timed(RecordingSender):
    """Notes when each packet went, and where to."""

    def __init__(self) -> None:
        super().__init__()
        self.wire: list[OnTheWire] = []
        self.now_s = 0.0

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Note a packet."""
        self.wire.append((round(self.now_s, 6), destination, bytes(packet)))


def controller(protocol: Protocol, universes: int = 2, **settings: Any) -> Controller:
    """Return a controller with so many universes of 50 nodes."""
    ports = tuple(port(number, number, 50) for number in range(1, universes + 1))
    return Controller(name="jetty", protocol=protocol, address="10.61.0.2", ports=ports, **settings)


def sent(
    controller: Controller, seconds: float, pattern: str = "level", **setup: Any
) -> list[tuple[float, Destination, bytes]]:
    """Return what goes out in so many seconds, with its moment."""
    timed = Timed()
    outlet = Outlet(timed, (timed,), "", {controller.address: Broadcast(timed, EVERYBODY[0])})
    display = Display(name="lake", controllers=(controller,))
    play = Play(setup=Setup(display=display, **setup), show=Show(pattern=pattern, level_percent=100, pace=3))
    run = Run(play, Source(CID), lambda _: outlet, 0.0)
    run.begin()
    while timed.now_s < seconds and not run.is_over:
        run.tick(timed.now_s)
        timed.now_s = max(timed.now_s, run.wake_s)
    return [each for each in timed.wire if each[1][0] != "239.255.250.214"]


@pytest.mark.parametrize(
    ("which", "destination"),
    [
        (controller(Protocol.E131, sync_address=7001), GROUP),
        (controller(Protocol.ARTNET, art_sync=True), EVERYBODY),
    ],
    ids=lambda each: each.protocol if isinstance(each, Controller) else "",
)
@pytest.mark.parametrize("gap_ms", [0.0, 1.0, 20.0])
def test_one_packet_follows_each_frame_after_the_gap(
    which: Controller, destination: tuple[str, int], gap_ms: float
):
    """Two data packets at 0, 25, 50 and 75 ms (a change and its repeats), each pair followed by one."""
    wire = sent(which, 0.5, sync_gap_ms=gap_ms)
    for frame in range(4):
        first, second, third = wire[3 * frame : 3 * frame + 3]
        assert {first[1][0], second[1][0]} == {"10.61.0.2"}
        assert (first[0], second[0]) == pytest.approx((0.025 * frame, 0.025 * frame))
        assert third[0] == pytest.approx(0.025 * frame + gap_ms / 1000, abs=1e-6)
        assert third[1] == destination
        assert third[2] == (ART_SYNC if destination == EVERYBODY else synchronization(frame + 1))
    assert len(wire) == 12, "nothing moves: no data, and so no synchronization"


def test_it_follows_the_last_piece_of_a_frame_that_is_spread():
    """A hundred and twenty universes over half of each frame: 12.5 ms, and then the gap."""
    wire = sent(controller(Protocol.E131, 120, sync_address=7001), 0.024, spread=0.5, sync_gap_ms=2)
    assert [each[1] == GROUP for each in wire] == [False] * 120 + [True]
    assert wire[-2][0] > 0.005
    assert wire[-1][0] == pytest.approx(wire[-2][0] + 0.002, abs=1e-6)


def test_a_keep_alive_is_released_too():
    """Held levels are held by whatever packet brings them: one each 0.9 s, and one after it."""
    wire = sent(controller(Protocol.E131, 1, sync_address=7001), 2.5)
    later = [each for each in wire if each[0] > 0.2]
    assert [each[1] == GROUP for each in later] == [False, True] * 2


def test_controllers_that_are_not_synchronized_get_none():
    """Neither by a group nor by broadcast."""
    for protocol in Protocol:
        assert {each[1][0] for each in sent(controller(protocol), 1.0, "walk")} == {"10.61.0.2"}


def test_it_counts_on_by_itself_past_255():
    """Clause 6.3.2 and 6.2.5: 255 is followed by 0, whatever the data's number is."""
    wire = sent(controller(Protocol.E131, 2, sync_address=7001), 7.0, every_frame=True)
    numbers = [each[2][44] for each in wire if each[1] == GROUP]
    assert len(numbers) > 260
    assert numbers == [(1 + count) % 256 for count in range(len(numbers))]
