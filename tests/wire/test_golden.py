"""Every packet against the published octet tables, read both ways, and every header bit flipped."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest

from streamer.errors import PacketError
from streamer.wire import artnet, e131
from tests.wire.golden import ARTNET, E131, Golden

Parse = Callable[[bytes | bytearray | memoryview], Any]
CASES = [(golden, e131.parse) for golden in E131] + [(golden, artnet.parse) for golden in ARTNET]
each_packet = pytest.mark.parametrize(
    ("golden", "parse"), [pytest.param(golden, parse, id=golden.name) for golden, parse in CASES]
)
each_golden = pytest.mark.parametrize(
    "golden", [golden for golden, _ in CASES], ids=lambda golden: golden.name
)


def flips(golden: Golden) -> Iterator[tuple[int, int, bytes]]:
    """Every single-bit flip of a packet: its octet, its bit and the damaged datagram."""
    for octet in range(len(golden.octets)):
        for bit in range(8):
            damaged = bytearray(golden.octets)
            damaged[octet] ^= 1 << bit
            yield octet, 1 << bit, bytes(damaged)


def first_octet_of_field(golden: Golden, octet: int) -> int:
    """Where the field that contains `octet` begins."""
    start = 0
    for octets, _ in golden.rows:
        size = len(octets) // 2
        if octet < start + size:
            return start
        start += size
    raise AssertionError(octet)


def is_another_kind(golden: Golden, damaged: bytes) -> bool:
    """Whether the flip made the OpCode that of another Art-Net packet, which is then read as that one."""
    op_code = int.from_bytes(damaged[8:10], "little")
    return golden in ARTNET and damaged[8:10] != golden.octets[8:10] and op_code in set(artnet.OpCode)


def verdict_on(golden: Golden, parse: Parse, octet: int, damaged: bytes) -> str:
    """Say what reading a packet with a flip in `octet` comes to."""
    try:
        return "unseen" if parse(damaged) == golden.packet else "another packet"
    except PacketError as error:
        named = first_octet_of_field(golden, octet) <= error.octet <= octet
        return "discarded" if named or is_another_kind(golden, damaged) else "blamed elsewhere"


@each_golden
def test_a_packet_encodes_to_the_published_octets(golden: Golden):
    """What we send is the table, octet for octet."""
    assert golden.packet.encode() == golden.octets


@each_packet
def test_the_published_octets_are_read_as_the_packet(golden: Golden, parse: Parse):
    """What we read is what the table says, from bytes, bytearray and memoryview alike."""
    assert parse(golden.octets) == golden.packet
    assert parse(bytearray(golden.octets)) == golden.packet
    assert parse(memoryview(golden.octets)) == golden.packet


@each_packet
def test_every_flipped_bit_is_seen(golden: Golden, parse: Parse):
    """A flip is an error at its field, or changes the packet, or is of a bit that must be ignored."""
    verdicts = {
        (octet, bit): verdict_on(golden, parse, octet, damaged) for octet, bit, damaged in flips(golden)
    }
    may_be_unseen = {
        (octet, 1 << bit) for octet, bits in golden.ignored.items() for bit in range(8) if bits & 1 << bit
    }
    assert {flip for flip, verdict in verdicts.items() if verdict == "unseen"} == may_be_unseen
    assert [flip for flip, verdict in verdicts.items() if verdict == "blamed elsewhere"] == []


@each_packet
def test_a_packet_cut_short_anywhere_is_discarded(golden: Golden, parse: Parse):
    """Every shorter datagram is an error, except where an earlier version may leave fields out."""
    for size in range(len(golden.octets)):
        if golden.optional_from is not None and size >= golden.optional_from:
            parse(golden.octets[:size])
        else:
            with pytest.raises(PacketError):
                parse(golden.octets[:size])


@each_packet
def test_octets_after_a_packet_are_ignored(golden: Golden, parse: Parse):
    """The packet's own lengths say where it ends (E1.31: 5.4; Art-Net: later versions may add fields)."""
    assert parse(golden.octets + bytes(range(1, 256)) * 2) == golden.packet


def test_a_poll_without_its_later_fields_is_read_as_zeros():
    """Art-Net 4, ArtPoll: fields that are not there count as zero."""
    short = ARTNET[3].octets[:14]
    assert artnet.parse(short) == artnet.ArtPoll(ARTNET[3].packet.flags, ARTNET[3].packet.diag_priority)


def test_a_poll_reply_of_207_octets_is_read_with_zeros_for_the_rest():
    """Art-Net 4, ArtPollReply: older devices end before BindIp."""
    reply = artnet.parse(ARTNET[4].octets[:207])
    assert isinstance(reply, artnet.ArtPollReply)
    assert reply.mac == bytes([0x02, 0x1B, 0x3D, 0x5F, 0x71, 0x93])
    assert (int(reply.bind_ip), reply.bind_index, reply.status2, reply.refresh_rate) == (0, 0, 0, 0)
