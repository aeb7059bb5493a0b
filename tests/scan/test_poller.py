"""Polling by the specification, and what a device's replies come to. Art-Net 4, ArtPoll and ArtPollReply."""

from itertools import pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.scan.devices import Direction
from streamer.scan.memory import OLD_S, REPLIES_MAX, REPLIES_OF_SOURCE_MAX
from streamer.scan.poller import Poller
from tests.scan.replies import outputs, reply
from tests.wire.golden import ART_POLL, G4

SHED = "10.0.0.9"
ASK_ALL = bytes.fromhex("4172742d4e65740000 20 000e 00 00 0000 0000 0000 0000".replace(" ", ""))
"""Art-Net 4, ArtPoll: no flags, asks everybody; 22 octets."""
ASK_ONE = bytes.fromhex("4172742d4e65740000 20 000e 20 00 7fff 0000 0000 0000".replace(" ", ""))
"""Flags bit 5, targeted; the top Port-Address is 32767, the bottom 0."""


def poller(*addresses: str) -> Poller:
    """Return one of the network 10.0.0.0/24."""
    return Poller(["10.0.0.255"], addresses)


def test_everybody_is_asked_by_broadcast_and_planned_addresses_alone_in_targeted_mode():
    """Art-Net 4: unicast is allowed in targeted mode."""
    asked = poller(SHED, "10.0.0.255", SHED).due(0.0)
    assert [tuple(each) for each in asked] == [(ASK_ALL, "10.0.0.255"), (ASK_ONE, SHED)]


def test_polls_are_2_5_to_3_seconds_apart():
    """Art-Net 4, ArtPoll; looked at every 10 ms for a minute."""
    asking = poller()
    polls = [tick / 100 for tick in range(6000) if asking.due(tick / 100)]
    gaps = [later - earlier for earlier, later in pairwise(polls)]
    assert polls[0] == 0.0
    assert all(2.5 <= gap <= 3.0 for gap in gaps)
    assert asking.polls == len(polls) == 22


def test_after_a_long_sleep_one_poll_is_sent_and_not_a_burst():
    """A suspended machine asks once."""
    asking = poller()
    asking.due(0.0)
    assert asking.due(3600.0)
    assert not asking.due(3600.0)


def test_every_field_of_the_golden_reply_is_told():
    """G4, which tshark 4.4.19 reads the same way."""
    asking = poller()
    asking.due(0.0)
    assert asking.heard(G4.octets, "10.11.12.13", 0.4)
    (device,) = asking.devices(0.5)
    assert (device.address, device.source, device.bound_to) == ("10.11.12.13", "10.11.12.13", "")
    assert (device.short_name, device.long_name) == ("strand-node", "Strand node, bench unit 4")
    assert (device.mac, device.firmware) == ("02:1b:3d:5f:71:93", "0x0203")
    assert (device.oem, device.esta, device.style) == ("0x00ff", "0x7ff0", "node")
    assert device.report is not None
    assert (device.report.code, device.report.counter, device.report.words) == (
        1,
        42,
        "Power-on tests passed",
    )
    # status1 0xd2: normal, panel, RDM; status2 0x1d: web, DHCP capable, 15-bit, sACN; status3 0x28.
    assert device.status == (
        "indicators: normal",
        "addresses set on its panel",
        "RDM",
        "can switch to E1.31",
        "15-bit Port-Addresses",
        "can use DHCP",
        "has a web page",
        "fail-over",
        "ports can switch direction",
        "on data loss: holds",
    )
    (port,) = device.ports
    assert (port.number, port.direction, port.port_address, port.protocol) == (1, "output", 1443, "DMX512")
    # good output 0x83: data, LTP, sACN.
    assert port.status == ("data goes out", "merge: latest takes precedence", "takes E1.31")
    assert port.takes_e131
    assert device.refresh_rate_hz == 60


def test_replies_of_several_bind_indexes_are_one_device():
    """In the order of BindIndex, whatever order they came in; its ports are numbered through."""
    asking = poller()
    asking.heard(outputs(8, 9, bind=3), SHED, 0.2)
    asking.heard(outputs(0, 1, 2, 3, bind=1), SHED, 0.3)
    asking.heard(outputs(4, 5, 6, 7, bind=2), SHED, 0.4)
    (device,) = asking.devices(0.5)
    assert device.bind_indexes == (1, 2, 3)
    assert [(each.number, each.port_address) for each in device.outputs] == [
        (number + 1, 16 + number) for number in range(10)
    ]


def test_inputs_are_counted_apart_from_outputs_and_a_port_may_be_both():
    """PortTypes bits 7 and 6; SwIn for one, SwOut for the other."""
    asking = poller()
    octets = outputs(4, 5, port_types=b"\xc0\x40", sw_in=b"\x08\x09", net_switch=b"\x02")
    asking.heard(octets, SHED, 0.0)
    (device,) = asking.devices(0.0)
    assert [(each.direction, each.number, each.port_address) for each in device.ports] == [
        (Direction.OUTPUT, 1, 2 << 8 | 16 | 4),
        (Direction.INPUT, 1, 2 << 8 | 16 | 8),
        (Direction.INPUT, 2, 2 << 8 | 16 | 9),
    ]


def test_two_devices_that_say_one_address_are_not_taken_for_one():
    """Anybody may write any address into a reply; where it came from is told."""
    asking = poller()
    asking.heard(outputs(0), SHED, 0.0)
    asking.heard(outputs(5, short_name=b"liar"), "10.0.0.66", 0.1)
    assert [(each.address, each.source, each.name) for each in asking.devices(0.2)] == [
        (SHED, "10.0.0.66", "liar"),
        (SHED, SHED, "shed"),
    ]


def test_a_part_of_a_larger_product_names_its_root():
    """BindIp."""
    asking = poller()
    asking.heard(outputs(0, bind=2, bind_ip=bytes([10, 0, 0, 1])), SHED, 0.0)
    assert asking.devices(0.0)[0].bound_to == "10.0.0.1"


def test_a_device_without_an_answer_for_three_seconds_is_not_there_and_comes_back():
    """Art-Net 4: no answer in 3 s, disconnected."""
    asking = poller()
    asking.due(0.0)
    asking.heard(outputs(0), SHED, 1.0)
    asking.due(2.75)
    assert asking.devices(5.74)[0].is_there
    (gone,) = asking.devices(5.76)
    assert (gone.is_there, gone.silences) == (False, 1)
    asking.due(5.76)
    asking.heard(outputs(0), SHED, 6.0)
    (back,) = asking.devices(6.1)
    assert (back.is_there, back.silences, back.restarts, back.replies) == (True, 1, 0, 2)


def heard_in_turn(*reports: tuple[float, str]) -> tuple[int, str]:
    """Return restarts, and how the last was noticed, of a device that says these reports at these times."""
    asking, last_s = poller(), 0
    for now, report in reports:
        for second in range(last_s, int(now) + 1):
            asking.due(second)
        last_s = int(now) + 1
        asking.heard(outputs(0, report=report.encode()), SHED, now)
    (device,) = asking.devices(reports[-1][0])
    return device.restarts, device.restart


def test_a_counter_that_begins_anew_is_a_restart():
    """NodeReport: a counter of replies, from the device's start."""
    restarts, how = heard_in_turn((1, "#0006 [0811] x"), (4, "#0006 [0812] x"), (7, "#0001 [0001] x"))
    assert restarts == 1
    assert "812 to 1" in how


def test_power_on_tests_passed_after_a_silence_is_a_restart():
    """RcPowerOk, where it said something else before; the counter alone would hide it."""
    assert heard_in_turn((1, "#0006 [0002] x"), (30, "#0001 [0003] x")) == (
        1,
        "after a silence it reports that its power-on tests passed",
    )


def test_no_restart_is_made_up():
    """A counter past its end, replies that overtook each other, no counter, one that never counts."""
    assert heard_in_turn((1, "#0001 [9999] x"), (4, "#0001 [0000] x"))[0] == 0
    assert heard_in_turn((1, "#0001 [0005] x"), (1.2, "#0001 [0004] x"))[0] == 0
    assert heard_in_turn((1, "all fine"), (4, "all fine"))[0] == 0
    assert heard_in_turn((1, "#0001 [0000] x"), (4, "#0001 [0000] x"), (30, "#0001 [0000] x"))[0] == 0
    assert heard_in_turn((1, "#0001 [0001] x"), (4, "#0006 [0002] x"))[0] == 0


def test_a_bad_report_of_any_bind_index_is_the_one_told():
    """An output that is short is not hidden behind three that are fine."""
    asking = poller()
    asking.heard(outputs(0, bind=1), SHED, 0.0)
    asking.heard(outputs(1, bind=2, report=b"#000d [0007] port 2"), SHED, 0.1)
    asking.heard(outputs(2, bind=3), SHED, 0.2)
    report = asking.devices(0.3)[0].report
    assert report is not None
    assert (report.code, report.meaning) == (0x000D, "an output is SHORT")


def test_what_is_no_reply_is_counted():
    """Our own poll comes back by broadcast; rubbish is rubbish."""
    asking = poller()
    assert not asking.heard(ART_POLL.octets, "10.0.0.1", 0.0)
    assert not asking.heard(b"node", SHED, 0.0)
    assert not asking.heard(outputs(0)[:100], SHED, 0.0)
    assert (asking.other, asking.malformed) == (1, 2)
    assert SHED in asking.last_malformed
    assert asking.devices(0.0) == []


def test_a_short_reply_of_an_older_device_is_taken():
    """198 octets: absent fields are zero."""
    asking = poller()
    assert asking.heard(outputs(0)[:198], SHED, 0.0)
    assert asking.devices(0.0)[0].bind_indexes == (0,)


def test_a_reply_that_says_no_address_is_that_of_its_sender():
    """An address of zeros."""
    asking = poller()
    asking.heard(outputs(0, ip=bytes(4)), SHED, 0.0)
    assert asking.devices(0.0)[0].address == SHED


HOSTILE = b"\x1b[2J\xe2\x80\xae[b]\x07"
"""Clears a screen, turns the text's direction (U+202E), markup, a bell."""


def test_names_hold_nothing_that_steers_a_terminal():
    """Only printable characters are left, wherever a device may write text."""
    asking = poller()
    asking.heard(outputs(0, short_name=HOSTILE, long_name=HOSTILE, node_report=HOSTILE), SHED, 0.0)
    (device,) = asking.devices(0.0)
    for text in (device.name, device.long_name, device.report_text):
        assert text.isprintable()
        assert len(text) <= 64


def flood(asking: Poller, count: int, now: float) -> None:
    """Send replies of so many invented devices."""
    for number in range(count):
        source = f"172.16.{number >> 8 & 255}.{number & 255}"
        asking.heard(reply(ip=bytes([172, 16, number >> 8 & 255, number & 255])), source, now)


def test_a_flood_of_invented_devices_puts_no_real_one_out():
    """Memory is bounded, the known stay, and the planned find room."""
    asking = poller("10.0.0.7")
    asking.heard(outputs(0), SHED, 0.0)
    flood(asking, REPLIES_MAX + 500, 0.1)
    asking.heard(outputs(1, ip=bytes([10, 0, 0, 7])), "10.0.0.7", 0.2)
    addresses = {each.address for each in asking.devices(0.3)}
    assert "10.0.0.7" in addresses
    assert len(addresses) == REPLIES_MAX
    assert asking.passed_over == 501
    assert asking.forgotten == 1


def test_the_silent_make_room():
    """What has not been heard for four polls goes first."""
    asking = poller()
    flood(asking, REPLIES_MAX, 0.0)
    asking.heard(outputs(0), SHED, OLD_S)
    assert SHED in {each.address for each in asking.devices(OLD_S)}
    assert (asking.passed_over, asking.forgotten) == (0, 1)


def test_one_sender_cannot_fill_the_memory():
    """However many addresses it invents."""
    asking = poller()
    for number in range(REPLIES_OF_SOURCE_MAX + 50):
        asking.heard(reply(ip=bytes([10, 1, number >> 8, number & 255])), SHED, 0.0)
    assert len(asking.devices(0.0)) == REPLIES_OF_SOURCE_MAX
    assert asking.passed_over == 50


@settings(deadline=None)
@given(st.lists(st.tuples(st.binary(min_size=0, max_size=260), st.floats(0, 100)), max_size=10))
def test_nothing_that_arrives_raises(datagrams: list[tuple[bytes, float]]):
    """Any octets, with and without a reply's beginning; in any order of time."""
    asking = poller(SHED)
    for octets, now in datagrams:
        asking.due(now)
        asking.heard(octets, SHED, now)
        asking.heard(outputs(0)[:10] + octets, SHED, now)
        asking.heard(outputs(0)[:108] + octets.ljust(131, b"9"), SHED, now)
        asking.devices(now)
