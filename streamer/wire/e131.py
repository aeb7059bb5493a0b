"""ANSI E1.31-2018 (sACN): constants, the data packet, and one `parse` for every kind of packet.

Levels with START code 0 and data with any other travel in the same packet. Timing is the sender's
business; what a receiver makes of packets is in `reception`.
"""

from dataclasses import dataclass
from enum import IntFlag
from struct import Struct
from uuid import UUID

from streamer.errors import FieldError
from streamer.wire import acn
from streamer.wire.acn import UNIVERSE_MAX, UNIVERSE_MIN
from streamer.wire.e131_extended import (
    UNIVERSES_PER_PAGE,
    VECTOR_DISCOVERY,
    VECTOR_SYNCHRONIZATION,
    DiscoveryPacket,
    SyncPacket,
    discovery_pages,
    read_discovery,
    read_sync,
)
from streamer.wire.fields import (
    OCTET_MAX,
    Datagram,
    check_range,
    expect,
    expect_range,
    expect_size,
    read_text,
)

__all__ = [
    "UNIVERSES_PER_PAGE",
    "UNIVERSE_MAX",
    "UNIVERSE_MIN",
    "DataPacket",
    "DiscoveryPacket",
    "Options",
    "SyncPacket",
    "discovery_pages",
    "multicast_group",
    "multicast_group_v6",
    "parse",
]

PORT = 5568
"""Clause 9.1.1: the UDP destination port."""
DISCOVERY_UNIVERSE = 64214
"""Appendix A: its group carries universe discovery and nothing else."""
DATA_LOSS_TIMEOUT_S = 2.5
"""Clause 6.7.1 and appendix A."""
DISCOVERY_INTERVAL_S = 10.0
"""Clause 4.3 and appendix A."""
KEEP_ALIVE_MIN_S = 0.8
KEEP_ALIVE_MAX_S = 1.0
"""Clause 6.6.2: how far apart unchanged levels are repeated."""
REPEATS_BEFORE_QUIET = 3
"""Clause 6.6.2: how often unchanged levels are sent before a source goes quiet."""
TERMINATED_PACKETS = 3
"""Clause 6.2.6: how many packets with Stream_Terminated end a stream."""

PRIORITY_MIN = 0
PRIORITY_MAX = 200
PRIORITY_DEFAULT = 100
"""Clause 6.2.3."""
SYNC_ADDRESS_NONE = 0
"""Clause 6.2.4: the levels are not synchronized."""
START_CODE_LEVELS = 0x00
"""ANSI E1.11: the slots are levels."""

VECTOR_DATA = 0x00000002
"""Clause 6.2.1, under the data root vector."""
VECTOR_DMP_SET_PROPERTY = 0x02
"""Clause 7.2."""
ADDRESS_AND_DATA_TYPE = 0xA1
"""Clause 7.3."""
FIRST_PROPERTY_ADDRESS = 0x0000
"""Clause 7.4."""
ADDRESS_INCREMENT = 0x0001
"""Clause 7.5."""

SOURCE_NAME_OCTET = 44
PRIORITY_OCTET = 108
SYNC_ADDRESS_OCTET = 109
SEQUENCE_OCTET = 111
OPTIONS_OCTET = 112
UNIVERSE_OCTET = 113
"""Table 6-5."""
DMP_LENGTH_OCTET = 115
DMP_VECTOR_OCTET = 117
ADDRESS_AND_DATA_TYPE_OCTET = 118
FIRST_PROPERTY_ADDRESS_OCTET = 119
ADDRESS_INCREMENT_OCTET = 121
PROPERTY_VALUE_COUNT_OCTET = 123
START_CODE_OCTET = 125
SLOTS_OCTET = 126
"""Table 7-8."""
SLOTS_MAX = 512
"""Clause 7.6: the property values are the START code and up to 512 slots."""

_FRAMING_FIELDS = Struct(f">{acn.SOURCE_NAME_OCTETS}sBHBBH")
_DMP_LAYER = Struct(">HBBHHHB")


class Options(IntFlag):
    """The options octet (6.2.6). Bits 4 to 0 are reserved: sent as 0, ignored on receipt."""

    PREVIEW_DATA = 0x80
    """The slots are for previews and must not drive live output."""
    STREAM_TERMINATED = 0x40
    """The source has stopped this universe; the slots must be ignored."""
    FORCE_SYNCHRONIZATION = 0x20
    """When synchronization is lost, go on unsynchronized; when not set, keep the last look."""


NO_OPTIONS = Options(0)
OPTIONS_MASK = Options.PREVIEW_DATA | Options.STREAM_TERMINATED | Options.FORCE_SYNCHRONIZATION


@dataclass(frozen=True, slots=True)
class DataPacket:
    """One universe's slots from one source (Tables 4-1, 6-5 and 7-8)."""

    cid: UUID
    source_name: str
    universe: int
    """1 to 63999."""
    slots: bytes
    """1 to 512 when sent; a received packet may have none."""
    sequence: int = 0
    """0 to 255, counted for this universe's data packets alone (6.2.5)."""
    priority: int = PRIORITY_DEFAULT
    """0 to 200, the highest counts (6.2.3)."""
    sync_address: int = SYNC_ADDRESS_NONE
    """0, or the universe whose synchronization packets release these levels (6.2.4)."""
    options: Options = NO_OPTIONS
    start_code: int = START_CODE_LEVELS

    def encode(self) -> bytes:
        """Return the 126 + n octets for n slots, or raise FieldError."""
        self._check()
        size = SLOTS_OCTET + len(self.slots)
        return (
            acn.start_of_packet(size, acn.VECTOR_ROOT_E131_DATA, self.cid, VECTOR_DATA)
            + _FRAMING_FIELDS.pack(
                acn.source_name_octets(self.source_name),
                self.priority,
                self.sync_address,
                self.sequence,
                self.options,
                self.universe,
            )
            + _DMP_LAYER.pack(
                acn.flags_and_length(size, DMP_LENGTH_OCTET),
                VECTOR_DMP_SET_PROPERTY,
                ADDRESS_AND_DATA_TYPE,
                FIRST_PROPERTY_ADDRESS,
                ADDRESS_INCREMENT,
                size - START_CODE_OCTET,
                self.start_code,
            )
            + self.slots
        )

    def _check(self) -> None:
        acn.check_universe("universe", self.universe)
        check_range("number of slots", len(self.slots), 1, SLOTS_MAX)
        check_range("sequence number", self.sequence, 0, OCTET_MAX)
        check_range("priority", self.priority, PRIORITY_MIN, PRIORITY_MAX)
        check_range("synchronization address", self.sync_address, SYNC_ADDRESS_NONE, UNIVERSE_MAX)
        check_range("START code", self.start_code, 0, OCTET_MAX)
        if self.options | OPTIONS_MASK != OPTIONS_MASK:
            raise FieldError("options", self.options, "the flags of Options")


def parse(datagram: Datagram) -> DataPacket | SyncPacket | DiscoveryPacket:
    """Read a received datagram of any kind; raise PacketError, and nothing else, if it must be discarded.

    Discarded is what clauses 5 to 8 name, and what they leave open but cannot mean: lengths that
    contradict each other, a priority above 200, a reserved universe. Octets after the packet are ignored.
    """
    root_vector, cid, framing_vector = acn.read_start_of_packet(datagram)
    if root_vector == acn.VECTOR_ROOT_E131_DATA:
        expect("framing vector", acn.FRAMING_VECTOR_OCTET, framing_vector, VECTOR_DATA)
        return _read_data(datagram, cid)
    expect("root vector", acn.ROOT_VECTOR_OCTET, root_vector, acn.VECTOR_ROOT_E131_EXTENDED)
    if framing_vector == VECTOR_SYNCHRONIZATION:
        return read_sync(datagram, cid)
    expect("framing vector", acn.FRAMING_VECTOR_OCTET, framing_vector, VECTOR_DISCOVERY)
    return read_discovery(datagram, cid)


def _read_data(datagram: Datagram, cid: UUID) -> DataPacket:
    expect_size(datagram, SLOTS_OCTET)
    end = _read_dmp_layer(datagram)
    name, priority, sync_address, sequence, options, universe = _FRAMING_FIELDS.unpack_from(
        datagram, SOURCE_NAME_OCTET
    )
    expect_range("priority", PRIORITY_OCTET, priority, PRIORITY_MIN, PRIORITY_MAX)
    expect_range("synchronization address", SYNC_ADDRESS_OCTET, sync_address, SYNC_ADDRESS_NONE, UNIVERSE_MAX)
    acn.expect_universe("universe", UNIVERSE_OCTET, universe)
    return DataPacket(
        cid,
        read_text(name),
        universe,
        bytes(datagram[SLOTS_OCTET:end]),
        sequence,
        priority,
        sync_address,
        Options(options & OPTIONS_MASK),
        datagram[START_CODE_OCTET],
    )


def _read_dmp_layer(datagram: Datagram) -> int:
    """Check clauses 7.1 to 7.6 and return where the slots end."""
    _, vector, kind, first, increment, count, _ = _DMP_LAYER.unpack_from(datagram, DMP_LENGTH_OCTET)
    expect("DMP vector", DMP_VECTOR_OCTET, vector, VECTOR_DMP_SET_PROPERTY)
    expect("address and data type", ADDRESS_AND_DATA_TYPE_OCTET, kind, ADDRESS_AND_DATA_TYPE)
    expect("first property address", FIRST_PROPERTY_ADDRESS_OCTET, first, FIRST_PROPERTY_ADDRESS)
    expect("address increment", ADDRESS_INCREMENT_OCTET, increment, ADDRESS_INCREMENT)
    length_octets = (acn.ROOT_LENGTH_OCTET, acn.FRAMING_LENGTH_OCTET, DMP_LENGTH_OCTET)
    ends = {octet: acn.layer_end(datagram, octet) for octet in length_octets}
    ends[PROPERTY_VALUE_COUNT_OCTET] = START_CODE_OCTET + count
    end = acn.agreed_end(datagram, ends)
    expect_range("property value count", PROPERTY_VALUE_COUNT_OCTET, count, 1, SLOTS_MAX + 1)
    return end


def multicast_group(universe: int) -> str:
    """Return a universe's IPv4 group (Table 9-10), also the discovery universe's, or raise FieldError."""
    _check_group_universe(universe)
    high, low = divmod(universe, OCTET_MAX + 1)
    return f"239.255.{high}.{low}"


def multicast_group_v6(universe: int) -> str:
    """Return a universe's IPv6 group (Tables 9-11 and 9-12), also the discovery universe's.

    The sixteen octets are FF 18, ten zeros, 83 00 and the universe. Raises FieldError.
    """
    _check_group_universe(universe)
    return f"ff18::8300:{universe:x}"


def _check_group_universe(universe: int) -> None:
    if universe != DISCOVERY_UNIVERSE:
        acn.check_universe("universe", universe)
