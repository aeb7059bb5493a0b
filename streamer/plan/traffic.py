"""Packets and bits on the cable: what each controller is sent, and all together, with Ethernet's overhead."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from streamer.display.model import Controller, Display, Protocol
from streamer.plan.addresses import Universe
from streamer.wire import artnet, e131
from streamer.wire.e131_extended import (
    SYNC_PACKET_OCTETS,
    UNIVERSE_LIST_OCTET,
    UNIVERSE_OCTETS,
    UNIVERSES_PER_PAGE,
)

BITS_PER_OCTET = 8
PREAMBLE_OCTETS = 8
"""With the start-of-frame delimiter: IEEE 802.3 clause 3.2."""
HEADER_OCTETS = 14
CHECK_OCTETS = 4
GAP_OCTETS = 12
"""Between frames: IEEE 802.3, 96 bit times."""
LEAST_DATA_OCTETS = 46
"""Shorter ones are padded: IEEE 802.3, 64 octets a frame at the least."""
IPV4_OCTETS = 20
"""Without options: RFC 791."""
IPV6_OCTETS = 40
"""RFC 8200."""
UDP_OCTETS = 8
"""RFC 768."""

BITS_PER_S_100M = 100_000_000
BITS_PER_S_1G = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Traffic:
    """What goes over a cable in a second while every universe changes in every frame."""

    packets_per_s: float
    bits_per_s: float
    """On the wire: preamble, headers, check and the gap between frames included."""

    @property
    def share_of_100m(self) -> float:
        """Of 100 Mb/s; 1 is all of it."""
        return self.bits_per_s / BITS_PER_S_100M

    @property
    def share_of_1g(self) -> float:
        """Of 1 Gb/s."""
        return self.bits_per_s / BITS_PER_S_1G


NOTHING = Traffic(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class NetworkLoad:
    """All that this machine sends."""

    levels: Traffic
    """Data packets: one a frame for each universe and destination."""
    synchronization: Traffic
    discovery: Traffic
    total: Traffic
    multicast: Traffic
    """The part of it that goes to groups, and so to every port of a switch that does not sort them."""
    groups: int
    """Of levels and synchronization, without that of discovery."""


def wire_octets(payload_octets: int, ip_octets: int = IPV4_OCTETS) -> int:
    """Return what a datagram of so many octets takes up on an Ethernet cable, with the gap after it."""
    data_octets = max(payload_octets + UDP_OCTETS + ip_octets, LEAST_DATA_OCTETS)
    return data_octets + HEADER_OCTETS + CHECK_OCTETS + PREAMBLE_OCTETS + GAP_OCTETS


def level_octets(protocol: Protocol, slots: int) -> int:
    """Return the octets of a data packet, UDP payload: 638 and 530 for 512 slots."""
    return (e131.SLOTS_OCTET if protocol is Protocol.E131 else artnet.SLOTS_OCTET) + slots


def controller_traffic(controller: Controller, universes: Iterable[Universe], rate_hz: float) -> Traffic:
    """Return what one controller has to take in: the universes that it has something in."""
    mine = sum(controller.name in universe.controllers for universe in universes)
    return _levels(controller, mine, rate_hz)


def network_load(display: Display, universes: Sequence[Universe], rate_hz: float) -> NetworkLoad:
    """Return what leaves this machine; discovery and synchronization by one interface."""
    controller_of = {controller.name: controller for controller in display.controllers}
    streams = [(universe, controller_of[universe.controllers[0]]) for universe in universes]
    levels = _sum(_levels(controller, 1, rate_hz) for _, controller in streams)
    multicast = _sum(_levels(each, 1, rate_hz) for universe, each in streams if universe.is_multicast)
    e131_sync = {each.sync_address for each in display.controllers} - {e131.SYNC_ADDRESS_NONE}
    art_sync = any(controller.art_sync for controller in display.controllers)
    e131_signals = _packets(SYNC_PACKET_OCTETS, len(e131_sync) * rate_hz)
    signals = _sum([e131_signals, _packets(artnet.SYNC_OCTETS, art_sync * rate_hz)])
    listed = {each.universe for each in universes if each.protocol is Protocol.E131} | e131_sync
    discovery = discovery_traffic(len(listed))
    groups = {universe.universe for universe in universes if universe.is_multicast} | e131_sync
    return NetworkLoad(
        levels,
        signals,
        discovery,
        _sum([levels, signals, discovery]),
        _sum([multicast, e131_signals, discovery]),
        len(groups),
    )


def discovery_traffic(universes: int) -> Traffic:
    """Return the pages that list so many universes, every 10 s (ANSI E1.31-2018 clause 4.3)."""
    pages = math.ceil(universes / UNIVERSES_PER_PAGE)
    counts = [min(UNIVERSES_PER_PAGE, universes - UNIVERSES_PER_PAGE * page) for page in range(pages)]
    return _sum(
        _packets(UNIVERSE_LIST_OCTET + UNIVERSE_OCTETS * count, 1 / e131.DISCOVERY_INTERVAL_S)
        for count in counts
    )


def _levels(controller: Controller, universes: int, rate_hz: float) -> Traffic:
    return _packets(level_octets(controller.protocol, controller.slots), universes * rate_hz)


def _packets(payload_octets: int, per_s: float) -> Traffic:
    return Traffic(per_s, per_s * wire_octets(payload_octets) * BITS_PER_OCTET)


def _sum(parts: Iterable[Traffic]) -> Traffic:
    every = list(parts)
    return Traffic(sum(part.packets_per_s for part in every), sum(part.bits_per_s for part in every))
