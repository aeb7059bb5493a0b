"""A cable that loses and swaps packets: the listener counts just that, and a night run cries no wolf."""

import socket
import time
from contextlib import ExitStack
from uuid import UUID

import pytest
import sacn

from streamer.display.model import Protocol
from streamer.hear.ears import Ears
from streamer.hear.messages import SourceHeard
from streamer.hear.table import Table
from streamer.net.interfaces import find_interface
from streamer.soak.journal import journal_path, reading
from streamer.soak.records import Event, EventKind, Severity
from tests.rig import faults
from tests.rig.cable import Cable
from tests.rig.faults import have, is_at
from tests.rig.night_rig import NightRig, night_rig
from tests.rig.relay import Done, Rules
from tests.rig.relayed import Relay, relayed

pytestmark = pytest.mark.rig

UNIVERSES = (1, 2, 300)
PACKETS = 2_000
"""Of each universe and protocol."""
UNTOUCHED = 20
"""At the beginning and the end: a packet that is lost there is missed by nobody."""
AT_ONCE = 20
LIMIT_S = 20.0
CID = UUID(int=61)
SMALL_OCTETS = 100_000
"""Asked for, of which the kernel makes twice as much: some 150 packets of a whole universe."""
UNREAD = 150
"""Of each universe at a time: more than half a cycle of numbers that is lost at once cannot be counted."""


def e131_packet(universe: int, number: int) -> tuple[bytes, tuple[str, int]]:
    """Return a packet of the reference library and the group it goes to (ANSI E1.31-2018 Table 9-10)."""
    packet = sacn.DataPacket(tuple(CID.bytes), "Lake", universe, sequence=number % 256, dmxData=(7,) * 512)
    return bytes(packet.getBytes()), (f"239.255.{universe >> 8}.{universe & 255}", 5568)


def artdmx(universe: int, number: int) -> tuple[bytes, tuple[str, int]]:
    """Return an ArtDmx to the far host; Art-Net 4, ArtDmx packet definition. Numbers go from 1 to 255."""
    head = b"Art-Net\0" + (0x5000).to_bytes(2, "little") + bytes([0, 14, number % 255 + 1, 0])
    return head + universe.to_bytes(2, "little") + (2).to_bytes(2, "big") + b"\7\7", ("10.61.0.2", 6454)


class Listening:
    """A listener on the far host, read when the test says so."""

    def __init__(self, cable: Cable, stack: ExitStack, buffer_octets: int) -> None:
        asked = {Protocol.E131: UNIVERSES, Protocol.ARTNET: (1,)}
        interface = find_interface(cable.far.interface)
        table = Table(asked, time.monotonic(), interface.name)
        self.ears = Ears(table, interface, buffer_octets=buffer_octets)
        self.ears.open(stack, Protocol)

    def sources(self) -> dict[tuple[str, int], SourceHeard]:
        """Return the only source of each universe, by protocol and universe."""
        heard = self.ears.heard(time.monotonic())
        return {(each.protocol.value, each.universe): only(each.sources) for each in heard.universes}

    def wait_for(self, packets: int) -> None:
        """Wait until so many have been heard of all universes together, in order or not."""
        limit_s = time.monotonic() + LIMIT_S
        while sum(each.packets + each.out_of_order for each in self.sources().values()) < packets:
            assert time.monotonic() < limit_s, self.sources()
            self.ears.wait()
            self.ears.poll()

    @property
    def dropped(self) -> int:
        """What the kernel dropped for want of buffer."""
        return sum(each.dropped or 0 for each in self.ears.sockets())


def only(sources: tuple[SourceHeard, ...]) -> SourceHeard:
    """Return the one that there is."""
    (source,) = sources
    return source


def send(cable: Cable, relay: Relay, numbers: range, listening: Listening | None) -> None:
    """Send these of all universes by both protocols, no faster than the relay passes them on."""
    with cable.near.inside(), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(cable.near.address))
        for number in numbers:
            for octets, to in (*(e131_packet(each, number) for each in UNIVERSES), artdmx(1, number)):
                sock.sendto(octets, to)
            if number % AT_ONCE == AT_ONCE - 1:
                wait_until_relayed(relay, number + 1)
                if listening:
                    listening.ears.poll()


def wait_until_relayed(relay: Relay, numbers: int) -> None:
    """Wait until so many of each flow have come through."""
    limit_s = time.monotonic() + LIMIT_S
    while min((each.seen for each in levels(relay)), default=0) < numbers:
        assert time.monotonic() < limit_s


def levels(relay: Relay) -> list[Done]:
    """Return what was done to each flow of levels: three groups, and one host by Art-Net."""
    done = relay.done()
    flows = [f"10.61.0.1 239.255.{each >> 8}.{each & 255} 5568" for each in UNIVERSES]
    return [done.get(flow, Done()) for flow in (*flows, "10.61.0.1 10.61.0.2 6454")]


RULES = Rules(seed=61, lose=0.05, swap=0.05, behind_most=5, first=UNTOUCHED, last=PACKETS - UNTOUCHED)
DELAYED = Rules(seed=62, lose=0.01, swap=0.2, delay_s=0.05, first=UNTOUCHED, last=PACKETS - UNTOUCHED)


@pytest.mark.parametrize("rules", [RULES, DELAYED], ids=["a twentieth each", "delayed"])
def test_what_a_cable_lost_and_swapped_is_counted_exactly_by_both_protocols(cable: Cable, rules: Rules):
    """By sequence numbers: ANSI E1.31-2018 clause 6.7.2; Art-Net 4, ArtDmx. What came late is not lost."""
    with ExitStack() as stack:
        relay = stack.enter_context(relayed(cable, rules))
        stack.enter_context(cable.far.inside())
        listening = Listening(cable, stack, 2**22)
        send(cable, relay, range(PACKETS), listening)
        done = levels(relay)
        listening.wait_for(sum(each.seen - each.lost for each in done))
        told, dropped = listening.sources(), listening.dropped
    heard = [told["e131", each] for each in UNIVERSES] + [told["artnet", 1]]
    assert [each.seen for each in done] == [PACKETS] * 4
    assert min(min(each.lost, each.swapped) for each in done) > 0
    assert [(each.lost, each.out_of_order) for each in heard] == [(each.lost, each.swapped) for each in done]
    assert [each.packets for each in heard] == [PACKETS - each.lost - each.swapped for each in done]
    assert [each.lost_here for each in heard] == [0] * 4
    assert dropped == 0


def test_what_this_machine_dropped_is_told_apart_from_what_the_cable_lost(cable: Cable):
    """The kernel's own count of a full buffer (SO_RXQ_OVFL, socket(7)) against what is missing beyond."""
    rules = Rules(seed=63, lose=0.1, swap=0.05, behind_most=3, first=UNTOUCHED, last=500 - UNTOUCHED)
    with ExitStack() as stack:
        relay = stack.enter_context(relayed(cable, rules))
        stack.enter_context(cable.far.inside())
        listening = Listening(cable, stack, SMALL_OCTETS)
        send(cable, relay, range(500), listening)
        assert listening.dropped == 0
        for first in range(500, 500 + 3 * UNREAD, UNREAD):
            send(cable, relay, range(first, first + UNREAD), None)
            listening.ears.poll()
        send(cable, relay, range(500 + 3 * UNREAD, 500 + 3 * UNREAD + AT_ONCE), listening)
        listening.ears.poll()
        told, done, dropped = listening.sources(), levels(relay), listening.dropped
    heard = [told["e131", each] for each in UNIVERSES] + [told["artnet", 1]]
    assert [each.lost - each.lost_here for each in heard] == [each.lost for each in done]
    assert [each.out_of_order for each in heard] == [each.swapped for each in done]
    assert sum(each.lost_here for each in heard) == dropped
    assert dropped > UNREAD


ANSWERS = Rules(way="back", seed=64, lose=0.2, delay_s=0.02)
OF_CONTROLLERS = {EventKind.CONTROLLER_GONE, EventKind.CONTROLLER_REBOOTED, EventKind.NOTE}


def test_a_fifth_of_the_answers_lost_is_no_controller_that_is_gone_and_a_true_one_is_told(cable: Cable):
    """Replies to ArtPoll and echoes come back by a cable that loses; then one controller is taken away."""
    with relayed(cable, ANSWERS) as relay, night_rig(cable) as rig:
        rig.begin("--for", "1h", "--programme", "data")
        time.sleep(15)
        assert of_controllers(rig) == []
        had = have(rig, faults.controller_gone, 10, until=lambda: bool(of_controllers(rig)))
        rig.wait_until(lambda: of_controllers(rig)[0].ended_at is not None)
        rig.stop()
        assert relay.done()["10.61.0.2 10.61.0.1 icmp"].lost > 0
        answered, came = answers_of_jetty(rig), came_through(relay)
        (gone,) = of_controllers(rig)
    assert (gone.kind, gone.subject) == (EventKind.CONTROLLER_GONE, "roof")
    assert gone.ended_at is not None
    assert is_at(gone.began_at.unix_s, had.began_s, 4)
    assert is_at(gone.ended_at.unix_s, had.ended_s, 4)
    # What came after the last sample, and a reply to nobody's poll, are not counted.
    assert answered == pytest.approx(came, abs=2)


def of_controllers(rig: NightRig) -> list[Event]:
    """Return what the journal says of controllers."""
    events = [event for kind in OF_CONTROLLERS for event in rig.events(kind)]
    return [each for each in events if each.severity is not Severity.NOTICE]


def answers_of_jetty(rig: NightRig) -> tuple[int, int]:
    """Return how many polls and echoes the journal says were answered."""
    with reading(journal_path(rig.file)) as reader:
        told = [each for sample in reader.samples(1) for each in sample.controllers if each.name == "jetty"]
    return sum(each.polls_answered for each in told), sum(each.echoes_answered for each in told)


def came_through(relay: Relay) -> tuple[int, int]:
    """Return how many of its replies and echoes the relay let through."""
    done = relay.done()
    replies, echoes = (done[f"10.61.0.2 10.61.0.1 {port}"] for port in ("6454", "icmp"))
    return replies.seen - replies.lost, echoes.seen - echoes.lost
