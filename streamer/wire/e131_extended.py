"""The two extended packets of ANSI E1.31-2018: synchronization and universe discovery.

Import them from `streamer.wire.e131`, which also reads them.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from struct import Struct
from uuid import UUID

from streamer.errors import FieldError, PacketError
from streamer.wire import acn
from streamer.wire.fields import (
    OCTET_MAX,
    Datagram,
    check_range,
    expect,
    expect_range,
    expect_size,
    read_text,
)

VECTOR_SYNCHRONIZATION = 0x00000001
"""Clause 6.3.1, under the extended root vector."""
VECTOR_DISCOVERY = 0x00000002
"""Clause 6.4.1, under the extended root vector; under the data root vector 2 means levels."""
VECTOR_UNIVERSE_LIST = 0x00000001
"""Clause 8.2."""

SYNC_PACKET_ADDRESS_OCTET = 45
SYNC_PACKET_OCTETS = 49
"""Table 6-6."""

DISCOVERY_LENGTH_OCTET = 112
DISCOVERY_VECTOR_OCTET = 114
PAGE_OCTET = 118
UNIVERSE_LIST_OCTET = 120
"""Tables 6-7 and 8-9."""
UNIVERSES_PER_PAGE = 512
"""Clause 8.5."""
UNIVERSE_OCTETS = 2

_SYNC_FIELDS = Struct(">BH2x")
_DISCOVERY_FIELDS = Struct(f">{acn.SOURCE_NAME_OCTETS}s4xHIBB")


@dataclass(frozen=True, slots=True)
class SyncPacket:
    """Tells receivers to act on the levels they hold for `sync_address`, 1 to 63999 (Table 4-2)."""

    cid: UUID
    sync_address: int
    sequence: int = 0
    """0 to 255, counted for this universe's synchronization packets alone (6.3.2)."""

    def encode(self) -> bytes:
        """Return the 49 octets, or raise FieldError."""
        acn.check_universe("synchronization address", self.sync_address)
        check_range("sequence number", self.sequence, 0, OCTET_MAX)
        return acn.start_of_packet(
            SYNC_PACKET_OCTETS, acn.VECTOR_ROOT_E131_EXTENDED, self.cid, VECTOR_SYNCHRONIZATION
        ) + _SYNC_FIELDS.pack(self.sequence, self.sync_address)


@dataclass(frozen=True, slots=True)
class DiscoveryPacket:
    """One page of the universes that a source sends levels or synchronization on (Table 4-3)."""

    cid: UUID
    source_name: str
    universes: tuple[int, ...]
    """At most 512, ascending (8.5)."""
    page: int = 0
    last_page: int = 0
    """Pages count from 0 to 255 (8.3, 8.4)."""

    def encode(self) -> bytes:
        """Return the 120 + 2n octets, or raise FieldError."""
        self._check()
        size = UNIVERSE_LIST_OCTET + UNIVERSE_OCTETS * len(self.universes)
        return (
            acn.start_of_packet(size, acn.VECTOR_ROOT_E131_EXTENDED, self.cid, VECTOR_DISCOVERY)
            + _DISCOVERY_FIELDS.pack(
                acn.source_name_octets(self.source_name),
                acn.flags_and_length(size, DISCOVERY_LENGTH_OCTET),
                VECTOR_UNIVERSE_LIST,
                self.page,
                self.last_page,
            )
            + b"".join(universe.to_bytes(UNIVERSE_OCTETS, "big") for universe in self.universes)
        )

    def _check(self) -> None:
        check_range("last page", self.last_page, 0, OCTET_MAX)
        check_range("page", self.page, 0, self.last_page)
        check_range("number of universes on a page", len(self.universes), 0, UNIVERSES_PER_PAGE)
        for universe in self.universes:
            acn.check_universe("list of universes", universe)
        if any(later <= earlier for earlier, later in pairwise(self.universes)):
            raise FieldError("list of universes", self.universes, "ascending numbers, each once")


def discovery_pages(cid: UUID, source_name: str, universes: Iterable[int]) -> tuple[DiscoveryPacket, ...]:
    """Return the whole set of pages for `universes`, sorted; without any, one empty page (8.3 to 8.5)."""
    ordered = sorted(set(universes))
    lists = [
        tuple(ordered[first : first + UNIVERSES_PER_PAGE])
        for first in range(0, max(len(ordered), 1), UNIVERSES_PER_PAGE)
    ]
    return tuple(
        DiscoveryPacket(cid, source_name, page_list, page, len(lists) - 1)
        for page, page_list in enumerate(lists)
    )


def read_sync(datagram: Datagram, cid: UUID) -> SyncPacket:
    """Read what follows a synchronization packet's framing vector, or raise PacketError."""
    expect_size(datagram, SYNC_PACKET_OCTETS)
    for octet in (acn.ROOT_LENGTH_OCTET, acn.FRAMING_LENGTH_OCTET):
        expect("end of the layer", octet, acn.layer_end(datagram, octet), SYNC_PACKET_OCTETS)
    sequence, sync_address = _SYNC_FIELDS.unpack_from(datagram, acn.FRAMING_FIELDS_OCTET)
    acn.expect_universe("synchronization address", SYNC_PACKET_ADDRESS_OCTET, sync_address)
    return SyncPacket(cid, sync_address, sequence)


def read_discovery(datagram: Datagram, cid: UUID) -> DiscoveryPacket:
    """Read what follows a discovery packet's framing vector, or raise PacketError."""
    expect_size(datagram, UNIVERSE_LIST_OCTET)
    length_octets = (acn.ROOT_LENGTH_OCTET, acn.FRAMING_LENGTH_OCTET, DISCOVERY_LENGTH_OCTET)
    end = acn.agreed_end(datagram, {octet: acn.layer_end(datagram, octet) for octet in length_octets})
    name, _, vector, page, last_page = _DISCOVERY_FIELDS.unpack_from(datagram, acn.FRAMING_FIELDS_OCTET)
    expect("universe discovery vector", DISCOVERY_VECTOR_OCTET, vector, VECTOR_UNIVERSE_LIST)
    expect_range("page", PAGE_OCTET, page, 0, last_page)
    return DiscoveryPacket(cid, read_text(name), _read_universes(datagram, end), page, last_page)


def _read_universes(datagram: Datagram, end: int) -> tuple[int, ...]:
    count, odd = divmod(end - UNIVERSE_LIST_OCTET, UNIVERSE_OCTETS)
    if odd or not 0 <= count <= UNIVERSES_PER_PAGE:
        raise PacketError("length", DISCOVERY_LENGTH_OCTET, f"ends the list of universes at octet {end}")
    universes = Struct(f">{count}H").unpack_from(datagram, UNIVERSE_LIST_OCTET)
    for index, universe in enumerate(universes):
        octet = UNIVERSE_LIST_OCTET + UNIVERSE_OCTETS * index
        acn.expect_universe("list of universes", octet, universe)
    return universes
