"""What E1.31 packets may hold, how they are paged and where they are sent."""

from dataclasses import replace
from ipaddress import IPv6Address
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.errors import FieldError, PacketError
from streamer.wire import e131
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket
from tests.wire.golden import E131, FULL_DATA, G1, G2, Golden

CID = UUID("3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f")
DATA = DataPacket(CID, "Boathouse", 7, bytes(3))

universes = st.integers(1, 63999)  # 6.2.7
octets = st.integers(0, 255)
names = st.text().filter(lambda name: name.isprintable() and len(name.encode()) <= 63)  # 6.2.2
options = st.sets(st.sampled_from(list(Options))).map(lambda chosen: Options(sum(chosen)))
data_packets = st.builds(
    DataPacket,
    cid=st.uuids(),
    source_name=names,
    universe=universes,
    slots=st.binary(min_size=1, max_size=512),
    sequence=octets,
    priority=st.integers(0, 200),
    sync_address=st.just(0) | universes,
    options=options,
    start_code=octets,
)
sync_packets = st.builds(SyncPacket, cid=st.uuids(), sync_address=universes, sequence=octets)


@st.composite
def discovery_packets(draw: st.DrawFn) -> DiscoveryPacket:
    """Draw a page within its set, its list ascending (8.3 to 8.5)."""
    last_page = draw(octets)
    page = draw(st.integers(0, last_page))
    listed = tuple(sorted(draw(st.sets(universes, max_size=40))))
    return DiscoveryPacket(draw(st.uuids()), draw(names), listed, page, last_page)


@given(data_packets | sync_packets | discovery_packets())
def test_what_is_sent_is_what_is_read(packet: DataPacket | SyncPacket | DiscoveryPacket):
    """Every packet that the standard allows survives the way over the wire."""
    assert e131.parse(packet.encode()) == packet


@given(data_packets)
def test_a_data_packet_has_126_octets_and_its_slots(packet: DataPacket):
    """Table 7-8: the slots begin at octet 126 and nothing follows them."""
    assert len(packet.encode()) == 126 + len(packet.slots)


@pytest.mark.parametrize("first", range(1, 513, 64))
def test_the_lengths_and_the_count_are_right_for_every_number_of_slots(first: int):
    """Clauses 5.4, 6.1, 7.1: each length counts from its own word to the end; 7.6: START code and slots."""
    for count in range(first, first + 64):
        octets_ = replace(DATA, slots=bytes(count)).encode()
        words = [int.from_bytes(octets_[octet : octet + 2], "big") for octet in (16, 38, 115, 123)]
        assert words == [0x7000 + 110 + count, 0x7000 + 88 + count, 0x7000 + 11 + count, 1 + count]


@given(st.binary(max_size=700))
def test_random_octets_are_only_ever_discarded(datagram: bytes):
    """Nothing but PacketError comes out of what is not E1.31."""
    with pytest.raises(PacketError):
        e131.parse(datagram)


@given(st.sampled_from(E131), st.data())
def test_a_damaged_packet_is_read_or_discarded_and_nothing_else(golden: Golden, data: st.DataObject):
    """Any octets changed, cut or added: no other exception than PacketError."""
    damaged = bytearray(golden.octets)
    for octet, value in data.draw(st.dictionaries(st.integers(0, len(damaged) - 1), octets)).items():
        damaged[octet] = value
    datagram = bytes(damaged[: data.draw(st.integers(0, len(damaged)))]) + data.draw(st.binary(max_size=9))
    try:
        e131.parse(datagram)
    except PacketError:
        return


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"universe": 0}, "universe"),  # 6.2.7
        ({"universe": 64000}, "universe"),
        ({"universe": 64214}, "universe"),  # discovery packets only
        ({"priority": 201}, "priority"),  # 6.2.3
        ({"priority": -1}, "priority"),
        ({"sync_address": 64000}, "synchronization address"),  # 6.2.4
        ({"sequence": 256}, "sequence number"),  # 6.2.5
        ({"start_code": 256}, "START code"),
        ({"slots": b""}, "number of slots"),  # 7.6
        ({"slots": bytes(513)}, "number of slots"),
        ({"options": Options(0x10)}, "options"),  # 6.2.6: reserved bits are sent as 0
        ({"source_name": "x" * 64}, "source name"),  # 6.2.2: 64 octets with its zero
        ({"source_name": "ü" * 32}, "source name"),  # 64 octets of UTF-8
        ({"source_name": "jetty\0"}, "source name"),
        ({"source_name": "\x1b[2J"}, "source name"),  # ours: names are shown on terminals
        ({"source_name": "\ud800"}, "source name"),
    ],
)
def test_what_the_standard_does_not_allow_is_not_sent(change: dict[str, Any], field: str):
    """A wrong field is refused by its name."""
    with pytest.raises(FieldError) as caught:
        replace(DATA, **change).encode()
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("packet", "field"),
    [
        (SyncPacket(CID, 0), "synchronization address"),  # 6.3.3.1
        (SyncPacket(CID, 64000), "synchronization address"),
        (SyncPacket(CID, 1, 256), "sequence number"),
        (DiscoveryPacket(CID, "a", (2, 1)), "list of universes"),  # 8.5: sorted
        (DiscoveryPacket(CID, "a", (1, 1)), "list of universes"),
        (DiscoveryPacket(CID, "a", (0,)), "list of universes"),
        (DiscoveryPacket(CID, "a", tuple(range(1, 514))), "number of universes on a page"),
        (DiscoveryPacket(CID, "a", (), page=1), "page"),  # 8.3
        (DiscoveryPacket(CID, "a", (), last_page=256), "last page"),
    ],
)
def test_extended_packets_are_checked_before_they_are_sent(packet: SyncPacket | DiscoveryPacket, field: str):
    """A wrong field of a synchronization or discovery packet is refused by its name."""
    with pytest.raises(FieldError) as caught:
        packet.encode()
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("octet", "value", "field"),
    [
        (108, b"\xc9", "priority"),  # 201
        (109, b"\xfa\x00", "synchronization address"),  # 64000
        (113, b"\x00\x00", "universe"),
        (113, b"\xfa\x00", "universe"),
        (113, b"\xfa\xd6", "universe"),  # 64214
        (123, b"\x00\x00", "length"),  # no START code
    ],
)
def test_a_received_value_out_of_range_is_discarded_at_its_octet(octet: int, value: bytes, field: str):
    """The error names the field and the octet of Tables 6-5 and 7-8."""
    damaged = G1.octets[:octet] + value + G1.octets[octet + len(value) :]
    with pytest.raises(PacketError) as caught:
        e131.parse(damaged)
    assert (caught.value.field, caught.value.octet) == (field, octet)


def test_a_synchronization_packet_for_address_0_is_discarded():
    """Clause 6.3.3.1."""
    with pytest.raises(PacketError, match="synchronization address at octet 45"):
        e131.parse(G2.octets[:45] + b"\0\0" + G2.octets[47:])


def test_a_data_packet_without_slots_is_read():
    """A count of 1 is the START code alone; the lengths are those of a packet of 126 octets."""
    octets_ = bytearray(DataPacket(CID, "a", 1, bytes(1)).encode()[:126])
    for octet, word in ((16, 0x706E), (38, 0x7058), (115, 0x700B), (123, 0x0001)):
        octets_[octet : octet + 2] = word.to_bytes(2, "big")
    packet = e131.parse(octets_)
    assert isinstance(packet, DataPacket)
    assert packet.slots == b""


def test_more_than_512_slots_are_discarded():
    """ANSI E1.11: a packet has at most 512 slots; all the lengths agree here."""
    octets_ = bytearray(FULL_DATA.octets + b"\0")
    for octet, word in ((16, 0x726F), (38, 0x7259), (115, 0x720C), (123, 0x0202)):
        octets_[octet : octet + 2] = word.to_bytes(2, "big")
    with pytest.raises(PacketError, match="property value count at octet 123"):
        e131.parse(octets_)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (b"Jetty\0\xff\xff", "Jetty"),  # 6.2.2: it ends at the first zero
        (b"\xc3\x28", "\ufffd("),
        (b"\x1b[31mred", "\ufffd[31mred"),
        (b"a\nb\x7f", "a\ufffdb\ufffd"),
        ("a\u202eb".encode(), "a\ufffdb"),  # right-to-left override
        (b"x" * 64, "x" * 64),  # no zero: read all the same
    ],
)
def test_a_received_name_is_plain_text(written: bytes, read: str):
    """A name that is badly written or hostile is neither an error nor a danger to a terminal."""
    damaged = bytearray(DATA.encode())
    damaged[44:108] = written.ljust(64, b"\0")
    packet = e131.parse(damaged)
    assert isinstance(packet, DataPacket)
    assert packet.source_name == read


@pytest.mark.parametrize(
    ("count", "sizes"), [(0, [0]), (1, [1]), (512, [512]), (513, [512, 1]), (1100, [512, 512, 76])]
)
def test_universes_are_paged_512_at_a_time(count: int, sizes: list[int]):
    """Clauses 8.3 to 8.5: pages count from 0, and nothing to list is one empty page."""
    pages = e131.discovery_pages(CID, "Boathouse", range(count, 0, -1))
    assert [len(page.universes) for page in pages] == sizes
    assert [page.page for page in pages] == list(range(len(sizes)))
    assert {page.last_page for page in pages} == {len(sizes) - 1}
    assert [universe for page in pages for universe in page.universes] == list(range(1, count + 1))
    assert len(pages[0].encode()) == 120 + 2 * sizes[0]


def test_every_universe_there_is_fits_into_one_set_of_pages():
    """63999 universes are 125 pages, and page numbers go to 255."""
    pages = e131.discovery_pages(CID, "Boathouse", range(1, 64000))
    assert len(pages) == 125
    assert e131.parse(pages[-1].encode()) == pages[-1]


@pytest.mark.parametrize(
    ("universe", "group", "group_v6"),
    [  # ANSI E1.31-2018 Tables 9-10 to 9-12: FF 18, ten zeros, 83 00, universe
        (1, "239.255.0.1", "ff18000000000000000000008300" + "0001"),
        (256, "239.255.1.0", "ff18000000000000000000008300" + "0100"),
        (300, "239.255.1.44", "ff18000000000000000000008300" + "012c"),
        (63999, "239.255.249.255", "ff18000000000000000000008300" + "f9ff"),
        (64214, "239.255.250.214", "ff18000000000000000000008300" + "fad6"),
    ],
)
def test_a_universe_has_its_groups(universe: int, group: str, group_v6: str):
    """The universe's two octets end both addresses."""
    assert e131.multicast_group(universe) == group
    assert IPv6Address(e131.multicast_group_v6(universe)).packed.hex() == group_v6


@pytest.mark.parametrize("universe", [0, 64000, 64213, 64215, 65535])
def test_a_reserved_universe_has_no_group(universe: int):
    """Clause 9.1.1."""
    with pytest.raises(FieldError):
        e131.multicast_group(universe)
    with pytest.raises(FieldError):
        e131.multicast_group_v6(universe)
