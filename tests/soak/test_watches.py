"""What each watch finds, from what the system would say; no socket, no clock."""

from dataclasses import replace
from random import Random
from typing import Any

import numpy as np
import pytest

from streamer.display.electrics import Supply
from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.engine.messages import Counts, Lateness, LatenessBin, Show, State, Status
from streamer.errors import NetworkError
from streamer.net.echo import EchoNotAllowedError
from streamer.net.interfaces import Interface, Ipv4
from streamer.soak.probes import Restart
from streamer.soak.records import UNNAMED_SUPPLY, EventKind, Moment, Sample, Severity
from streamer.soak.watches.controllers import ControllerWatch
from streamer.soak.watches.currents import CurrentWatch
from streamer.soak.watches.host import HostWatch, Readings
from streamer.soak.watches.link import LinkWatch
from streamer.soak.watches.stream import Stream
from tests.soak.fakes import SETUP, Engine, Probed

HERE = Interface(
    "shed0", 4, (Ipv4("10.61.0.1", "255.255.255.0", "10.61.0.255"),), True, True, False, False, True
)
AT = Moment(0.0, 0.0)
JETTY, ROOF = "10.61.0.2", "10.61.0.3"


class Machine:
    """What the system says of its interface and its ways."""

    def __init__(self) -> None:
        self.interface: Interface | None = HERE
        self.ways = {JETTY: True, ROOF: True}
        self.now_s = 0.0
        self.watch = LinkWatch(
            ["shed0"],
            {JETTY: f"controller jetty at {JETTY}", ROOF: ""},
            is_pinned=False,
            list_all=lambda: [self.interface] if self.interface else [],
            has_way=lambda address: self.ways[address],
        )
        self.look()

    def look(self, **changed: Any) -> list[tuple[EventKind, str]]:
        """Change the interface, look, and return what is found, with what has happened."""
        if changed:
            self.interface = replace(self.interface or HERE, **changed)
        self.now_s += 1
        self.watch.look(self.now_s)
        return [(each.kind, each.words) for each in (*self.watch.findings(), *self.watch.news())]


@pytest.fixture(name="machine")
def _machine() -> Machine:
    return Machine()


def test_an_interface_that_is_well_is_no_finding(machine: Machine):
    """Its carrier and address are in the sample."""
    assert machine.look() == []
    sample = machine.watch.add_to(Sample(AT))
    assert (sample.has_carrier, sample.address) == (True, "10.61.0.1")


def test_a_cable_that_is_out_is_seen_by_its_carrier(machine: Machine):
    """Sends succeed then, and everything is lost."""
    ((kind, words),) = machine.look(has_carrier=False)
    assert kind is EventKind.LINK_DOWN
    assert "no carrier" in words
    assert machine.watch.add_to(Sample(AT)).has_carrier is False
    assert machine.look(has_carrier=True) == []


def test_an_interface_that_is_switched_off(machine: Machine):
    """The system does not tell its carrier then."""
    assert machine.look(is_up=False, has_carrier=None) == [(EventKind.LINK_DOWN, "it is switched off")]


def test_an_interface_that_is_deleted_and_made_again(machine: Machine):
    """Gone, then another one of the same name, which is counted: memberships went with the first."""
    machine.interface = None
    assert [kind for kind, _ in machine.look()] == [EventKind.INTERFACE_GONE]
    found = machine.look(index=9)
    assert [kind for kind, _ in found] == [EventKind.NOTE]
    assert "made anew" in found[0][1]
    assert machine.watch.times_made == 1


def test_an_address_that_is_lost_and_another_that_comes(machine: Machine):
    """One that lasts, and one that says from what to what."""
    assert machine.look(addresses=()) == [(EventKind.ADDRESS_CHANGED, "it has lost its address 10.61.0.1")]
    new = (Ipv4("10.61.0.77", "255.255.255.0", "10.61.0.255"),)
    assert machine.look(addresses=new) == [(EventKind.ADDRESS_CHANGED, "10.61.0.1 is now 10.61.0.77")]
    assert machine.look() == []


def test_a_way_that_is_gone(machine: Machine):
    """For all destinations one finding, which names the first."""
    machine.ways = {JETTY: False, ROOF: False}
    assert machine.look() == [
        (EventKind.NO_ROUTE, f"this machine has no way there (controller jetty at {JETTY})")
    ]
    assert machine.watch.findings()[0].subject == "10.61.0.2 and 1 more"


def test_a_link_that_is_down_is_told_once_not_for_each_way(machine: Machine):
    """What follows from it is no finding of its own."""
    machine.ways = {JETTY: False, ROOF: False}
    assert [kind for kind, _ in machine.look(is_up=False)] == [EventKind.LINK_DOWN]


class Lawn:
    """Two controllers that are asked both ways."""

    def __init__(self, protocol: Protocol = Protocol.ARTNET) -> None:
        self.polls, self.echoes = Probed([JETTY, ROOF], 2.75), Probed([JETTY, ROOF], 1.0)
        self.is_up, self.made, self.opened, self.now_s = True, 0, 0, 0.0
        controllers = [
            Controller(name=name, protocol=protocol, address=address)
            for name, address in (("jetty", JETTY), ("roof", ROOF))
        ]
        self.watch = ControllerWatch(
            controllers, self._open_polls, lambda _: self.echoes, lambda: self.is_up, lambda: self.made
        )

    def _open_polls(self, addresses: object) -> Probed:  # noqa: ARG002  a probe's maker
        self.opened += 1
        return self.polls

    def go(self, seconds: float) -> list[tuple[EventKind, str, str]]:
        """Let time pass, and return what is found at its end, with what has happened."""
        for _ in range(round(seconds * 4)):
            self.now_s += 0.25
            self.watch.look(self.now_s)
        found = (*self.watch.findings(), *self.watch.news())
        return [(each.kind, each.subject, each.words) for each in found]


def test_controllers_that_answer_are_no_finding_and_their_answers_are_counted():
    """By name, both ways, with the longest round trip."""
    lawn = Lawn()
    assert lawn.go(60) == []
    jetty, roof = lawn.watch.add_to(Sample(AT)).controllers
    assert (jetty.name, roof.name) == ("jetty", "roof")
    assert jetty.polls_asked - 1 <= jetty.polls_answered <= jetty.polls_asked
    assert jetty.polls_asked == pytest.approx(60 / 2.75, abs=1.5)
    assert jetty.echoes_asked == pytest.approx(60, abs=1)
    assert jetty.round_trip_ms == pytest.approx(2.0)


def test_a_controller_that_answers_no_more_is_gone_since_it_was_heard_last():
    """Within ten seconds: Art-Net 4, ArtPoll, gives a device 3 s; two polls must be missed."""
    lawn = Lawn()
    lawn.go(30)
    for probe in (lawn.polls, lawn.echoes):
        probe.there.discard(ROOF)
    ((kind, subject, words),) = lawn.go(10)
    assert (kind, subject) == (EventKind.CONTROLLER_GONE, "roof")
    assert ROOF in words
    (finding,) = lawn.watch.findings()
    assert 7 <= finding.ago_s <= 13
    for probe in (lawn.polls, lawn.echoes):
        probe.there.add(ROOF)
    assert lawn.go(5) == []


def test_one_that_still_echoes_but_answers_no_poll_may_hang():
    """Its network lives, its Art-Net does not."""
    lawn = Lawn()
    lawn.go(30)
    lawn.polls.there.discard(JETTY)
    assert lawn.go(25) == []
    ((kind, subject, words),) = lawn.go(10)
    assert (kind, subject) == (EventKind.NOTE, "jetty")
    assert "may hang" in words


def test_one_that_never_echoes_is_gone_after_six_polls():
    """Two that are lost on the way are nothing: with a twentieth lost that is so many times a night."""
    lawn = Lawn()
    lawn.echoes.there.clear()
    lawn.go(30)
    lawn.polls.there.discard(ROOF)
    assert lawn.go(15) == []
    ((kind, subject, _),) = lawn.go(6)
    assert (kind, subject) == (EventKind.CONTROLLER_GONE, "roof")
    (finding,) = lawn.watch.findings()
    assert 18 <= finding.ago_s <= 24


@pytest.mark.parametrize(
    ("lost", "has_echo"), [pytest.param(0.2, True, marks=pytest.mark.slow), (0.1, False)]
)
def test_a_night_of_answers_lost_by_the_way_blames_nobody(lost: float, has_echo: bool):  # noqa: FBT001
    """Eight hours, each answer lost or not by a draw of its own; then one that is truly gone is told."""
    draw = Random(61)  # noqa: S311  not for secrets
    lawn = Lawn()
    for probe in (lawn.polls, lawn.echoes):
        probe.loses = lambda: draw.random() < lost
    if not has_echo:
        lawn.echoes.there.clear()
    told = [each for _ in range(8 * 3600) for each in lawn.go(1)]
    assert told == []
    jetty = lawn.watch.add_to(Sample(AT)).controllers[0]
    assert jetty.polls_answered / jetty.polls_asked == pytest.approx(1 - lost, abs=0.02)
    for probe in (lawn.polls, lawn.echoes):
        probe.there.discard(ROOF)
    assert {subject for _, subject, _ in lawn.go(22)} == {"roof"}


def test_one_of_e131_alone_need_answer_no_poll():
    """Its echo is enough, and polls that nobody answers are not counted against it."""
    lawn = Lawn(Protocol.E131)
    lawn.polls.there.clear()
    assert lawn.go(60) == []
    assert {each.polls_asked for each in lawn.watch.add_to(Sample(AT)).controllers} == {0}


@pytest.mark.parametrize(
    ("protocol", "severity"), [(Protocol.ARTNET, Severity.FAILURE), (Protocol.E131, Severity.REMARK)]
)
def test_one_that_never_answered_is_told_after_a_while(protocol: Protocol, severity: Severity):
    """Whoever speaks Art-Net must answer; others may be made to answer no echo."""
    lawn = Lawn(protocol)
    for probe in (lawn.polls, lawn.echoes):
        probe.there.discard(ROOF)
    assert lawn.go(10) == []
    lawn.go(5)
    (finding,) = lawn.watch.findings()
    assert (finding.kind, finding.subject) == (EventKind.CONTROLLER_GONE, "roof")
    assert finding.severity is severity


def test_a_restart_is_an_event_of_its_own():
    """As its counters and reports show it."""
    lawn = Lawn()
    lawn.go(10)
    lawn.polls.again.append(Restart(JETTY, "its counter of replies fell from 34 to 1"))
    ((kind, subject, words),) = lawn.go(2)
    assert (kind, subject) == (EventKind.CONTROLLER_REBOOTED, "jetty")
    assert "34 to 1" in words


def test_what_a_controller_reports_of_itself_is_a_finding():
    """Art-Net 4, NodeReport: a short at an output."""
    lawn = Lawn()
    lawn.polls.reports[ROOF] = "it reports: an output is SHORT"
    ((_, subject, words),) = lawn.go(5)
    assert (subject, words) == ("roof", "it reports: an output is SHORT")


def test_while_our_own_link_is_down_nobody_is_asked_or_blamed():
    """And after it came back everybody has time to answer."""
    lawn = Lawn()
    lawn.go(30)
    lawn.is_up = False
    for probe in (lawn.polls, lawn.echoes):
        probe.there.clear()
    lawn.watch.add_to(Sample(AT))
    assert lawn.go(60) == []
    assert all(each.is_there is None for each in lawn.watch.add_to(Sample(AT)).controllers)
    lawn.is_up = True
    assert lawn.go(5) == []


def test_nobody_is_blamed_for_the_time_in_which_the_machine_slept():
    """Nobody was asked."""
    lawn = Lawn()
    lawn.go(30)
    lawn.now_s += 3600
    assert lawn.go(1) == []


def test_one_that_is_gone_is_found_and_stays_so_though_a_slow_disk_holds_up_the_looks():
    """Three seconds for each sample: what was not asked meanwhile is not counted, and nothing begins anew."""
    lawn = Lawn()
    lawn.go(30)
    for probe in (lawn.polls, lawn.echoes):
        probe.there.discard(ROOF)
    gone_s, found = lawn.now_s, []
    for _ in range(5):
        lawn.now_s += 3
        found.append([(kind, subject) for kind, subject, _ in lawn.go(2)])
    gone = [(EventKind.CONTROLLER_GONE, "roof")]
    assert found == [[], [], [], gone, gone]
    (finding,) = lawn.watch.findings()
    assert finding.ago_s == pytest.approx(lawn.now_s - gone_s, abs=1)
    for probe in (lawn.polls, lawn.echoes):
        probe.there.add(ROOF)
    assert lawn.go(5) == []


def test_an_interface_made_anew_has_the_sockets_made_anew():
    """They hold the index of the old one."""
    lawn = Lawn()
    lawn.go(5)
    lawn.made = 1
    lawn.go(5)
    assert lawn.opened == 2
    assert lawn.polls.closed == lawn.echoes.closed == 1


def test_echoes_that_are_not_allowed_are_told_once_and_polls_go_on(monkeypatch: pytest.MonkeyPatch):
    """On most systems the user must be in net.ipv4.ping_group_range: icmp(7)."""
    lawn = Lawn()

    def refuse(_: float) -> None:
        raise EchoNotAllowedError("not allowed", "asking for an echo", "sysctl")

    monkeypatch.setattr(lawn.echoes, "ask", refuse)
    ((kind, subject, _),) = lawn.go(5)
    assert (kind, subject) == (EventKind.NOTE, "echo")
    assert lawn.go(30) == []
    assert {each.echoes_asked for each in lawn.watch.add_to(Sample(AT)).controllers} == {0}


def test_sockets_that_cannot_be_opened_are_an_error_for_the_night_to_tell():
    """A watch does not hide that it is blind."""
    watch = ControllerWatch(
        [Controller(name="roof", protocol=Protocol.ARTNET, address=ROOF)],
        lambda _: (_ for _ in ()).throw(NetworkError("no such interface", "shed0", "Plug it in")),
        lambda _: Probed([], 1),
        lambda: True,
        lambda: 0,
    )
    with pytest.raises(NetworkError):
        watch.look(5.0)


def told(lateness: Lateness, frames: int) -> Status:
    """Return a status."""
    return Status(state=State.RUNNING, plan=1, counts=Counts(frames=frames), lateness=lateness)


def test_lateness_is_that_of_the_frames_since_the_last_sample():
    """By nearest rank, each the upper edge of its bin: 990 of 1,000 up to 0.2 ms, ten up to 5 ms."""
    engine = Engine()
    stream = Stream(SETUP, lambda: engine)
    stream.begin(show(), 0.0)
    first = Lateness(max_us=9_000.0, bins=(LatenessBin(up_to_us=10_000.0, frames=5),))
    engine.say(told(first, 5))
    stream.look(1.0)
    stream.add_to(Sample(AT))
    bins = ((200.0, 990), (5_000.0, 10), (10_000.0, 5))
    later = Lateness(
        max_us=9_000.0, bins=tuple(LatenessBin(up_to_us=edge, frames=frames) for edge, frames in bins)
    )
    engine.say(told(later, 1_005))
    stream.look(2.0)
    lateness = stream.add_to(Sample(AT)).lateness
    assert (lateness.p50_ms, lateness.p99_ms, lateness.p999_ms, lateness.max_ms) == (0.2, 0.2, 5.0, 5.0)
    stream.close()


def show() -> Show:
    """Return anything that can be shown."""
    from streamer.soak.programme import usual_programme

    return usual_programme(has_fixtures=False).at(0).look.show(30.0, 40.0)


def test_currents_are_the_most_that_the_frames_called_for_by_supply():
    """20 mA a colour and 1 mA at rest (common practice, no source): 100 nodes at white take 6.1 A."""
    port = Port(name="jetty/1", number=1, universe=1, segments=(Segment(nodes=100),), supply="shed")
    controller = Controller(name="jetty", protocol=Protocol.E131, address=JETTY, ports=(port,))
    supply = Supply(name="shed", volts=5, amps=20)
    display = Display(name="jetty", controllers=(controller,), supplies=(supply,))
    frames = [np.full((100, 4), value, np.uint8) for value in (255, 0)]
    watch = CurrentWatch(display, lambda: frames.pop(0) if frames else None)
    watch.look(0.0)
    watch.look(1.0)
    most = watch.add_to(Sample(AT))
    assert most.amps == pytest.approx({"shed": 6.1})
    assert most.amps_total == pytest.approx(6.1)
    watch.look(2.0)
    assert watch.add_to(Sample(AT)).amps == {}


@pytest.mark.parametrize(("rated_a", "is_over"), [(7.5, True), (7.6, False)])
def test_a_supply_of_which_more_is_called_for_than_it_carries_is_told(rated_a: float, *, is_over: bool):
    """6.1 A of 80 % of its rating: NEC 210.20(A) for fuses; for supplies common practice, no source."""
    port = Port(name="jetty/1", number=1, universe=1, segments=(Segment(nodes=100),), supply="shed")
    controller = Controller(name="jetty", protocol=Protocol.E131, address=JETTY, ports=(port,))
    supply = Supply(name="shed", volts=5, amps=rated_a)
    display = Display(name="jetty", controllers=(controller,), supplies=(supply,))
    frames = [np.full((100, 4), value, np.uint8) for value in (255, 0)]
    watch = CurrentWatch(display, lambda: frames.pop(0) if frames else None)
    watch.look(0.0)
    assert [each.subject for each in watch.findings()] == (["supply shed"] if is_over else [])
    assert all("call for 6.10 A" in each.words for each in watch.findings())
    watch.look(1.0)
    assert watch.findings() == []


def test_what_no_supply_in_the_file_feeds_is_told_apart():
    """Two strings of 100 nodes, one with its supply named; together they are the whole."""
    segments = (Segment(nodes=100),)
    ports = (
        Port(name="jetty/1", number=1, universe=1, segments=segments, supply="shed"),
        Port(name="jetty/2", number=2, universe=2, segments=segments),
    )
    controller = Controller(name="jetty", protocol=Protocol.E131, address=JETTY, ports=ports)
    supplies = (Supply(name="shed", volts=5, amps=20),)
    display = Display(name="jetty", controllers=(controller,), supplies=supplies)
    watch = CurrentWatch(display, lambda: np.full((200, 4), 255, np.uint8))
    watch.look(0.0)
    told = watch.add_to(Sample(AT))
    assert told.amps == pytest.approx({"shed": 6.1, UNNAMED_SUPPLY: 6.1})
    assert told.amps_total == pytest.approx(12.2)


def test_the_host_is_read_for_each_sample():
    """Its load, its temperature, our memory; what a machine does not have is None."""
    watch = HostWatch(Readings(lambda: 0.5, lambda: None, lambda: 90_000_000))
    host = watch.add_to(Sample(AT)).host
    assert (host.load, host.temperature_c, host.memory_octets) == (0.5, None, 90_000_000)


def test_this_host_can_be_read():
    """Whatever it has."""
    host = HostWatch().add_to(Sample(AT)).host
    assert host.memory_octets > 5_000_000
    assert host.load is None or host.load >= 0
