"""What Art-Net packets may hold, and what a device's reply says. Source: Art-Net 4."""

from dataclasses import replace
from ipaddress import IPv4Address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.errors import FieldError, PacketError
from streamer.wire import artnet
from streamer.wire.artnet import ArtDmx, ArtPoll, ArtPollReply, NodeReport, PollFlags
from tests.wire.golden import ARTNET, G3, G4, Golden

octets = st.integers(0, 255)
words = st.integers(0, 65535)
port_addresses = st.integers(0, 32767)
four = st.binary(min_size=4, max_size=4)
six = st.binary(min_size=6, max_size=6)
nibbles = st.lists(st.integers(0, 15), min_size=4, max_size=4).map(bytes)
addresses = st.integers(0, 2**32 - 1).map(IPv4Address)


def ascii_text(most: int) -> st.SearchStrategy[str]:
    """Printable ASCII."""
    return st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=most)


dmx_packets = st.builds(
    ArtDmx,
    port_address=port_addresses,
    slots=st.binary(min_size=1, max_size=256).map(lambda half: half * 2),
    sequence=octets,
    physical=octets,
)
poll_packets = st.builds(
    ArtPoll,
    flags=st.sets(st.sampled_from(list(PollFlags))).map(lambda chosen: PollFlags(sum(chosen))),
    diag_priority=octets,
    target_top=port_addresses,
    target_bottom=port_addresses,
    esta=words,
    oem=words,
)
reply_packets = st.builds(
    ArtPollReply,
    ip=addresses,
    port=words,
    version=words,
    net_switch=st.integers(0, 127),
    sub_switch=st.integers(0, 15),
    oem=words,
    ubea_version=octets,
    status1=octets,
    esta=words,
    short_name=ascii_text(17),
    long_name=ascii_text(63),
    node_report=ascii_text(63),
    num_ports=st.integers(0, 4),
    port_types=four,
    good_input=four,
    good_output_a=four,
    sw_in=nibbles,
    sw_out=nibbles,
    acn_priority=octets,
    sw_macro=octets,
    sw_remote=octets,
    style=octets,
    mac=six,
    bind_ip=addresses,
    bind_index=octets,
    status2=octets,
    good_output_b=four,
    status3=octets,
    default_resp_uid=six,
    user=words,
    refresh_rate=words,
    background_queue_policy=octets,
)


@given(dmx_packets | poll_packets | reply_packets)
def test_what_is_sent_is_what_is_read(packet: ArtDmx | ArtPoll | ArtPollReply):
    """Every packet that the specification allows survives the way over the wire."""
    assert artnet.parse(packet.encode()) == packet


@given(st.binary(max_size=600))
def test_random_octets_are_only_ever_discarded(datagram: bytes):
    """Nothing but PacketError comes out of what is not Art-Net."""
    with pytest.raises(PacketError):
        artnet.parse(datagram)


@given(st.sampled_from(ARTNET), st.data())
def test_a_damaged_packet_is_read_or_discarded_and_nothing_else(golden: Golden, data: st.DataObject):
    """Any octets changed, cut or added: nothing but PacketError, and a reply can be asked for its ports."""
    damaged = bytearray(golden.octets)
    for octet, value in data.draw(st.dictionaries(st.integers(8, len(damaged) - 1), octets)).items():
        damaged[octet] = value
    datagram = bytes(damaged[: data.draw(st.integers(0, len(damaged)))]) + data.draw(st.binary(max_size=9))
    try:
        packet = artnet.parse(datagram)
    except PacketError:
        return
    if isinstance(packet, ArtPollReply):
        assert all(0 <= address <= 32767 for address in packet.output_port_addresses)


@pytest.mark.parametrize(
    ("packet", "field"),
    [
        (ArtDmx(-1, bytes(2)), "Port-Address"),
        (ArtDmx(32768, bytes(2)), "Port-Address"),
        (ArtDmx(0, b""), "Length"),
        (ArtDmx(0, bytes(7)), "Length"),
        (ArtDmx(0, bytes(514)), "Length"),
        (ArtDmx(0, bytes(2), sequence=256), "Sequence"),
        (ArtDmx(0, bytes(2), physical=256), "Physical"),
        (ArtPoll(flags=PollFlags(0x01)), "Flags"),
        (ArtPoll(diag_priority=256), "DiagPriority"),
        (ArtPoll(target_top=32768), "Port-Address"),
        (ArtPoll(esta=65536), "EstaMan"),
        (ArtPollReply(net_switch=128), "net_switch"),
        (ArtPollReply(sub_switch=16), "sub_switch"),
        (ArtPollReply(num_ports=5), "num_ports"),
        (ArtPollReply(sw_out=bytes([16, 0, 0, 0])), "SwIn and SwOut"),
        (ArtPollReply(port_types=bytes(3)), "number of octets in port_types"),
        (ArtPollReply(mac=bytes(7)), "number of octets in mac"),
        (ArtPollReply(short_name="x" * 18), "short_name"),
        (ArtPollReply(long_name="x" * 64), "long_name"),
        (ArtPollReply(long_name="Süd"), "long_name"),
        (ArtPollReply(node_report="a\nb"), "node_report"),
    ],
)
def test_what_the_specification_does_not_allow_is_not_sent(
    packet: ArtDmx | ArtPoll | ArtPollReply, field: str
):
    """A wrong field is refused by its name."""
    with pytest.raises(FieldError) as caught:
        packet.encode()
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("octet", "value", "field"),
    [
        (8, b"\x00\x51", "OpCode"),  # ArtNzs, not read here
        (10, b"\x00\x0d", "ProtVer"),  # 13
        (14, b"\x00\x80", "Port-Address"),  # bit 15
        (16, b"\x00\x00", "Length"),
        (16, b"\x00\x05", "Length"),  # odd
        (16, b"\x02\x02", "Length"),  # 514
        (16, b"\x00\x08", "Length"),  # two more than there are
    ],
)
def test_a_received_value_out_of_range_is_discarded_at_its_octet(octet: int, value: bytes, field: str):
    """The error names the field and the octet of the ArtDmx table."""
    with pytest.raises(PacketError) as caught:
        artnet.parse(G3.octets[:octet] + value + G3.octets[octet + len(value) :])
    assert (caught.value.field, caught.value.octet) == (field, octet)


def test_a_reply_says_which_port_addresses_its_device_sends_and_wants():
    """NetSwitch<<8 | SubSwitch<<4 | SwIn or SwOut, for each port whose PortTypes has the direction's bit."""
    assert G4.packet.output_port_addresses == (1443,)
    assert G4.packet.input_port_addresses == ()
    several = ArtPollReply(
        net_switch=1,
        sub_switch=2,
        num_ports=3,
        port_types=bytes([0x80, 0x40, 0xC0, 0x80]),
        sw_in=bytes([1, 2, 3, 4]),
        sw_out=bytes([5, 6, 7, 8]),
    )
    assert several.output_port_addresses == (0x125, 0x127)
    assert several.input_port_addresses == (0x122, 0x123)


def test_a_faulty_reply_is_read_as_it_came():
    """A SubSwitch with high bits set is shown, and masked where a Port-Address is made of it."""
    reply = artnet.parse(G4.octets[:19] + b"\xfa" + G4.octets[20:])
    assert isinstance(reply, ArtPollReply)
    assert reply.sub_switch == 0xFA
    assert reply.output_port_addresses == (1443,)


def test_names_in_a_reply_are_plain_text():
    """Control characters do not reach a terminal."""
    reply = artnet.parse(G4.octets[:26] + b"\x1b[2Jboat".ljust(18, b"\0") + G4.octets[44:])
    assert isinstance(reply, ArtPollReply)
    assert reply.short_name == "\ufffd[2Jboat"


@pytest.mark.parametrize(
    ("text", "report"),
    [  # Art-Net 4, NodeReport: "#xxxx [yyyy] words", code in hex, counter in decimal
        ("#0001 [0042] Power-on tests passed", NodeReport(1, 42, "Power-on tests passed")),
        ("#000f [9999] locked", NodeReport(15, 9999, "locked")),
        ("#FFFF [0000] ", NodeReport(65535, 0, "")),
    ],
)
def test_a_node_report_is_read(text: str, report: NodeReport):
    """Code, counter and words come apart, and go together again."""
    assert artnet.parse_node_report(text) == report
    assert report.encode().lower() == text.lower()


@pytest.mark.parametrize("text", ["", "fine", "#1 [2] x", "#00g1 [0001] x", "#0001 (0001) x"])
def test_other_words_in_a_node_report_are_no_error(text: str):
    """Devices write what they like there."""
    assert artnet.parse_node_report(text) is None


@pytest.mark.parametrize(
    "report",
    [NodeReport(-1, 0, ""), NodeReport(0, 10000, ""), NodeReport(0, 0, "x" * 60), NodeReport(0, 0, "\t")],
)
def test_a_node_report_that_does_not_fit_is_refused(report: NodeReport):
    """Four hex digits, four decimal ones, 63 octets in all."""
    with pytest.raises(FieldError):
        report.encode()


def test_a_later_version_is_read():
    """ProtVer 15 and above are accepted."""
    later = artnet.parse(G3.octets[:10] + b"\x01\x00" + G3.octets[12:])
    assert later == replace(G3.packet)
