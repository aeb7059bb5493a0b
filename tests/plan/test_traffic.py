"""Packets and bits, against IEEE 802.3's overhead worked out by hand and our own packets' lengths."""

from uuid import UUID

import pytest

from streamer.display.model import Protocol
from streamer.plan.addresses import universes_of
from streamer.plan.airtime import dsss_us, ofdm_us
from streamer.plan.traffic import (
    IPV6_OCTETS,
    Traffic,
    controller_traffic,
    discovery_traffic,
    level_octets,
    network_load,
    wire_octets,
)
from streamer.wire import artnet, e131, lay_out
from tests.plan.lake import controller, display, many, port

CID = UUID("3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f")
ON_THE_WIRE = [(638, 704), (510, 576), (49, 115), (136, 202), (1144, 1210), (530, 596), (402, 468), (14, 84)]
"""UDP payload, octets on the wire: + 8 UDP (RFC 768) + 20 IPv4 (RFC 791) + 14 header + 4 check + 8 preamble
+ 12 gap (IEEE 802.3); the last one padded to a frame of 64."""


@pytest.mark.parametrize(("payload", "wire"), ON_THE_WIRE)
def test_a_datagram_takes_up_its_overhead(payload: int, wire: int):
    """The payload + 66, and not under 84."""
    assert wire_octets(payload) == wire


def test_ipv6_takes_twenty_octets_more():
    """RFC 8200: a header of 40."""
    assert wire_octets(638, IPV6_OCTETS) == 724


@pytest.mark.parametrize("slots", [512, 384, 2])
def test_level_packets_are_as_long_as_those_that_are_sent(slots: int):
    """Against the packets that the libraries lay out."""
    data = lay_out.e131_data(
        cid=CID,
        source_name="lake",
        universe=1,
        slot_count=slots,
        priority=100,
        sync_address=0,
        options=e131.Options(0),
        start_code=0,
    )
    dmx = lay_out.artdmx(port_address=1, slot_count=slots, sequence=0, physical=0)
    assert level_octets(Protocol.E131, slots) == len(data)
    assert level_octets(Protocol.ARTNET, slots) == len(dmx)


@pytest.mark.parametrize(
    ("protocol", "rate_hz", "most_100m", "most_1g"),
    [
        (Protocol.E131, 40, 443, 4438),
        (Protocol.ARTNET, 40, 524, 5243),
        (Protocol.E131, 44, 403, 4035),
        (Protocol.ARTNET, 44, 476, 4766),
    ],
)
def test_a_link_carries_so_many_universes(protocol: Protocol, rate_hz: int, most_100m: int, most_1g: int):
    """10^8 / (40 x 5632) = 443.9 and so on: the packet sizes above, at all of the link."""
    bits = wire_octets(level_octets(protocol, 512)) * 8 * rate_hz
    assert Traffic(0, most_100m * bits).share_of_100m <= 1 < Traffic(0, (most_100m + 1) * bits).share_of_100m
    assert Traffic(0, most_1g * bits).share_of_1g <= 1 < Traffic(0, (most_1g + 1) * bits).share_of_1g


def test_eight_universes_are_under_two_megabits():
    """8 x 40 x 704 x 8 bits: 1.802 Mb/s; as Art-Net 8 x 40 x 596 x 8: 1.526."""
    lake = many(8)
    load = network_load(lake, universes_of(lake), 40)
    assert (load.levels.packets_per_s, load.levels.bits_per_s) == (320, 1_802_240)
    roof = many(8, protocol=Protocol.ARTNET, address="127.0.0.1")
    assert network_load(roof, universes_of(roof), 40).levels.bits_per_s == 1_525_760


def test_discovery_lists_512_universes_a_page_every_ten_seconds():
    """ANSI E1.31-2018 clauses 4.3 and 8.5, and the lengths of the packets themselves."""
    pages = [page.encode() for page in e131.discovery_pages(CID, "lake", list(range(1, 516)))]
    assert [len(page) for page in pages] == [1144, 126]
    found = discovery_traffic(515)
    assert found.packets_per_s == pytest.approx(0.2)
    assert found.bits_per_s == pytest.approx(sum(wire_octets(len(page)) for page in pages) * 8 / 10)
    assert discovery_traffic(0) == Traffic(0, 0)


def test_synchronization_is_one_packet_a_frame_for_each_address():
    """Two E1.31 addresses of 115 octets, and one ArtSync of 84 for all of Art-Net: IEEE 802.3 as above."""
    lake = display(
        controller(port(1, 1), sync_address=7999),
        controller(port(1, 2), name="shore", sync_address=7999),
        controller(port(1, 3), name="slip", sync_address=8000),
        controller(port(1, 4), name="roof", protocol=Protocol.ARTNET, address="127.0.0.1", art_sync=True),
        controller(port(1, 4), name="mast", protocol=Protocol.ARTNET, address="127.0.0.2", art_sync=True),
    )
    load = network_load(lake, universes_of(lake), 40)
    assert load.synchronization.packets_per_s == 120
    assert load.synchronization.bits_per_s == 40 * 8 * (2 * 115 + 84)
    assert len(artnet.ArtSync().encode()) == 14
    assert load.groups == 5
    assert load.discovery.bits_per_s == pytest.approx((120 + 2 * 5 + 66) * 8 / 10)


def test_all_parts_make_the_total_and_multicast_is_the_part_to_groups():
    """Unicast levels are not in it."""
    lake = display(
        controller(port(1, 1), sync_address=7999),
        controller(port(1, 2), name="shore", address="127.0.0.1"),
    )
    load = network_load(lake, universes_of(lake), 40)
    assert load.total.bits_per_s == pytest.approx(
        load.levels.bits_per_s + load.synchronization.bits_per_s + load.discovery.bits_per_s
    )
    assert load.multicast.packets_per_s == pytest.approx(40 + 40 + 0.1)
    assert load.levels.packets_per_s == 80


def test_a_universe_that_two_controllers_share_is_sent_once_and_heard_twice():
    """Both are members of its group."""
    lake = display(controller(port(1, 1)), controller(port(1, 1, 301, nodes=10), name="shore"))
    universes = universes_of(lake)
    assert network_load(lake, universes, 40).levels.packets_per_s == 40
    assert [controller_traffic(each, universes, 40).packets_per_s for each in lake.controllers] == [40, 40]


def test_shorter_packets_take_less():
    """384 slots: 576 octets on the wire, 4,608 bits."""
    lake = display(controller(port(1, 1), slots=384))
    assert network_load(lake, universes_of(lake), 40).levels.bits_per_s == 40 * 4608


def test_airtime_is_that_of_802_11():
    """One E1.31 frame: 1,061.5 us at 6 Mb/s and 6,168 us at 1 Mb/s: IEEE 802.11 timing, from memory."""
    assert ofdm_us(638) == 1061.5
    assert dsss_us(638) == 6168
