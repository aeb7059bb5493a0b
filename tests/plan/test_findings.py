"""What would go wrong: each is found, where it is, with what to do; and nothing else is."""

import pytest

from streamer.display.file import parse
from streamer.display.model import Display, Protocol
from streamer.display.sample import sample_display
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import PortCurrent, Power
from streamer.plan.findings import Finding, Severity, places_text
from streamer.plan.report import DisplayPlan, plan_of
from tests.plan.lake import controller, display, flood, many, port

WIRED = Host((), 20)
ASKED = Asked(40)


def planned(what: Display, asked: Asked = ASKED, host: Host = WIRED) -> DisplayPlan:
    """Return the plan of a display at 40 frames a second over a cable."""
    return plan_of(what, asked, host)


def only(what: Display, asked: Asked = ASKED, host: Host = WIRED) -> Finding:
    """Return the one finding."""
    (finding,) = planned(what, asked, host).findings
    return finding


def test_the_sample_display_can_work():
    """As the demo shows every day."""
    made = planned(sample_display())
    assert made.findings == ()
    assert made.works


def test_a_slow_line_is_a_warning_and_a_fault_where_the_rate_was_asked_for():
    """1,000 nodes: 33.0 frames a second at 800 kHz (datasheets' formula)."""
    slow = display(controller(port(1, 1), port(2, 9, nodes=1000)))
    found = only(slow)
    assert (found.severity, found.place) == (Severity.WARNING, "jetty/2")
    assert "33.0 a second at most" in found.what
    assert "--rate 33" in found.instead
    assert planned(slow).works
    assert only(slow, Asked(40, is_rate_said=True)).severity is Severity.FAULT
    assert not planned(slow, Asked(40, is_rate_said=True)).works
    assert planned(slow, Asked(33, is_rate_said=True)).findings == ()


def test_ten_thousand_nodes_on_a_port_are_told():
    """Each port is as slow as its line; many of them are one finding, the slowest first."""
    ports = [port(number, 1 + 60 * number, nodes=10_000 - number) for number in range(1, 7)]
    found = only(display(controller(*ports, address="127.0.0.1")), Asked(10))
    assert found.place == "jetty/1, jetty/2, jetty/3 and 3 more"
    assert "--rate 3)" in found.instead


def test_a_fixture_that_cannot_keep_up_is_told():
    """Full DMX512 packets come 44.1 times a second at most (ANSI E1.11)."""
    found = only(display(controller(fixtures=(flood(1),))), Asked(50))
    assert found.place == "Flood, reeds"


def test_a_chip_of_other_colours_is_a_fault():
    """RGBW data on RGB nodes: wrong from the second node on."""
    found = only(display(controller(port(1, 1, colour_order="RGBW", chip="WS2811"))))
    assert (found.severity, found.place) == (Severity.FAULT, "jetty/1")
    assert "3 colours" in found.what


@pytest.mark.parametrize(
    ("universes", "words"),
    [
        (222, "more than half of 100 Mb/s"),
        (444, "100 Mb/s cannot carry"),
        pytest.param(2220, "more than half of 1 Gb/s", marks=pytest.mark.slow),
    ],
)
def test_a_busy_link_is_a_warning(universes: int, words: str):
    """443.9 universes of E1.31 fill 100 Mb/s at 40 frames a second; half is common practice, no source."""
    found = planned(many(universes, address="127.0.0.1")).findings
    assert [each.place for each in found] == ["this machine", "jetty"]
    assert all(words in each.what and each.severity is Severity.WARNING for each in found)


@pytest.mark.slow
def test_more_than_a_gigabit_cannot_work():
    """4,438 universes of E1.31 fill 1 Gb/s."""
    made = planned(many(4440, address="127.0.0.1"))
    assert not made.works
    assert made.findings[0].severity is Severity.FAULT
    assert "1 Gb/s cannot carry it" in made.findings[0].what


def test_an_ordinary_load_is_no_finding():
    """200 universes: 45 Mb/s."""
    assert planned(many(200, address="127.0.0.1")).findings == ()


def test_much_multicast_asks_for_a_switch_that_sorts_groups():
    """A switch without snooping sends it out of every port (RFC 4541)."""
    places = {(each.place, "snooping" in each.instead) for each in planned(many(230)).findings}
    assert ("network", True) in places


def test_multicast_through_the_air_is_a_warning_with_its_reason():
    """8 universes at 40 frames a second: 34 % of the air at 6 Mb/s, 197 % at 1 Mb/s (IEEE 802.11)."""
    found = only(many(8), host=Host(("wlan0",), 20))
    assert (found.severity, found.place) == (Severity.WARNING, "network")
    assert "34 % of the air at 6 Mb/s, 197 % at 1 Mb/s" in found.what
    assert "wlan0" in found.what
    assert "cable" in found.instead


def test_more_than_all_of_the_air_is_a_fault():
    """23.5 universes fill it at 6 Mb/s."""
    assert only(many(24), host=Host(("wlan0",), None)).severity is Severity.FAULT
    assert only(many(23), host=Host(("wlan0",), None)).severity is Severity.WARNING


def test_unicast_through_the_air_is_no_finding():
    """It is acknowledged, and sent as fast as the link goes."""
    assert planned(many(8, address="192.168.7.20"), host=Host(("wlan0",), 20)).findings == ()


def test_more_groups_than_a_socket_joins_are_told():
    """Linux, ip-sysctl: igmp_max_memberships, 20 unless changed, counted for each socket."""
    found = only(many(21))
    assert "21 multicast groups" in found.what
    assert "2 sockets" in found.instead
    assert planned(many(20)).findings == ()
    assert planned(many(21), host=Host()).findings == ()


def test_one_universe_at_two_addresses_is_told():
    """Whoever plays to it plays to both."""
    twice = display(
        controller(port(1, 7), address="127.0.0.1"), controller(port(1, 7), name="shore", address="127.0.0.2")
    )
    found = only(twice)
    assert (found.severity, found.place) == (Severity.WARNING, "universe 7")
    assert "jetty, shore" in found.what


def test_faults_come_first_and_those_of_others_are_taken_in():
    """As of power, which is worked out elsewhere."""
    hot = Finding(Severity.FAULT, "jetty/1", "the fuse is too big for its wire", "Put in 5 A.")
    made = plan_of(
        display(controller(port(1, 1, nodes=1000))),
        ASKED,
        WIRED,
        Power({"jetty/1": PortCurrent(5.5, 1.7, 30)}, (hot,)),
    )
    assert [each.severity for each in made.findings] == [Severity.FAULT, Severity.WARNING]
    assert made.findings[0] == hot
    assert not made.works
    assert made.controllers[0].strings[0].current == PortCurrent(5.5, 1.7, 30)


def test_what_is_taken_for_granted_is_said():
    """The timing of strings without a chip, lengths that do not come out even, how channels are counted."""
    text = """name = "lake"
[[controllers]]
name = "jetty"
protocol = "artnet"
address = "127.0.0.1"
  [[controllers.ports]]
  number = 1
  port_address = 1
  spacing = "75 mm"
  segments = ["2.5 m", "2.4 m"]
"""
    said = "\n".join(planned(parse(text, "lake.toml")).assumptions)
    assert "No chip is named for jetty/1: 800 kHz" in said
    assert "jetty/1, segment 1: 2500 mm at 75 mm hold 33 nodes, rounded down; 25 mm are left over" in said
    assert "segment 2" not in said
    assert "count from Port-Address 0" in said


def test_nothing_is_taken_for_granted_that_the_file_says():
    """A chip, an even length, E1.31 packed."""
    named = display(controller(port(1, 1, chip="WS2811"), addressing="packed"))
    said = planned(named).assumptions
    assert len(said) == 1
    assert said[0].startswith("Every universe changes in every frame")


def test_synchronization_has_its_sentence():
    """One way out is reckoned with."""
    assert any("one interface" in each for each in planned(many(1, sync_address=7999)).assumptions)
    roof = many(1, protocol=Protocol.ARTNET, address="127.0.0.1", art_sync=True)
    assert any("ArtSync" in each for each in planned(roof).assumptions)


def test_long_lists_of_places_are_cut():
    """Three names and how many more; four are told whole."""
    assert places_text(["a", "b", "c", "d"]) == "a, b, c, d"
    assert places_text(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"
