"""Packets written by hand, octet by octet, from the published tables; no codec of ours made them.

Each row is one field: its octets in hex, its name, its place in the datagram. `ignored` lists the bits
of each octet that a receiver must not look at, with the reason. G1 to G4 were also read by tshark 4.4.19.
"""

from dataclasses import dataclass, field
from ipaddress import IPv4Address
from typing import Any
from uuid import UUID

from streamer.wire.artnet import ArtDmx, ArtPoll, ArtPollReply, ArtSync, PollFlags
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket

Row = tuple[str, str]
"""The octets of a field in hex, and the field's name."""


@dataclass(frozen=True)
class Golden:
    """A packet both ways: the rows of its table, and the object that they mean."""

    name: str
    rows: tuple[Row, ...]
    packet: Any
    ignored: dict[int, int] = field(default_factory=dict)
    """Octet -> the bits of it that the standard tells a receiver to ignore."""
    optional_from: int | None = None
    """Where the octets begin that a sender of an earlier version leaves out; they count as zero."""

    @property
    def octets(self) -> bytes:
        """The datagram."""
        return bytes.fromhex("".join(octets for octets, _ in self.rows))


def octets_ignored(first: int, last: int) -> dict[int, int]:
    """All bits of the octets `first` to `last`."""
    return dict.fromkeys(range(first, last + 1), 0xFF)


CID = UUID("3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f")

E131_START: tuple[Row, ...] = (  # Tables 4-1 to 4-3, clause 5
    ("0010", "preamble size"),
    ("0000", "post-amble size"),
    ("4153432d45312e3137000000", "ACN packet identifier"),
)
CID_ROW: Row = ("3f1c9a526b7d4e219c04d5a18e70b36f", "CID")  # Table 5-4

OPTIONS_RESERVED = {112: 0x1F}  # 6.2.6: bits 4 to 0 are ignored by receivers

G1 = Golden(
    "E1.31 data, 12 slots",  # ANSI E1.31-2018 Tables 4-1, 5-4, 6-5, 7-8
    (
        *E131_START,
        ("707a", "flags and length: 138 - 16"),  # 5.4
        ("00000004", "root vector"),
        CID_ROW,
        ("7064", "flags and length: 138 - 38"),  # 6.1
        ("00000002", "framing vector"),
        ("4e6f6465732053c3bc642037" + "00" * 52, "source name: 'Nodes Süd 7' in UTF-8, 64 octets"),
        ("75", "priority: 117"),
        ("1b59", "synchronization address: 7001"),
        ("c9", "sequence number: 201"),
        ("20", "options: Force_Synchronization"),
        ("012c", "universe: 300"),
        ("7017", "flags and length: 138 - 115"),  # 7.1
        ("02", "DMP vector"),
        ("a1", "address and data type"),
        ("0000", "first property address"),
        ("0001", "address increment"),
        ("000d", "property value count: 1 + 12"),
        ("00", "START code"),
        ("011f233d41576b75899dabfd", "slots"),
    ),
    DataPacket(
        CID,
        "Nodes Süd 7",
        300,
        bytes([1, 31, 35, 61, 65, 87, 107, 117, 137, 157, 171, 253]),
        sequence=201,
        priority=117,
        sync_address=7001,
        options=Options.FORCE_SYNCHRONIZATION,
    ),
    # 6.2.2: the name ends at its first zero octet, here 56, the 13th of the field.
    OPTIONS_RESERVED | octets_ignored(57, 107),
)

FULL_DATA = Golden(
    "E1.31 data, 512 slots, the largest universe",  # Tables 4-1, 5-4, 6-5, 7-8; 638 octets
    (
        *E131_START,
        ("726e", "flags and length: 622"),
        ("00000004", "root vector"),
        CID_ROW,
        ("7258", "flags and length: 600"),
        ("00000002", "framing vector"),
        ("426f6174686f757365" + "00" * 55, "source name: 'Boathouse'"),
        ("c8", "priority: 200, the highest"),
        ("0000", "synchronization address: none"),
        ("ff", "sequence number: 255"),
        ("c0", "options: Preview_Data and Stream_Terminated"),
        ("f9ff", "universe: 63999"),
        ("720b", "flags and length: 523"),
        ("02", "DMP vector"),
        ("a1", "address and data type"),
        ("0000", "first property address"),
        ("0001", "address increment"),
        ("0201", "property value count: 513"),
        ("dd", "START code"),
        ("00ff" * 256, "slots"),
    ),
    DataPacket(
        CID,
        "Boathouse",
        63999,
        bytes([0, 255]) * 256,
        sequence=255,
        priority=200,
        options=Options.PREVIEW_DATA | Options.STREAM_TERMINATED,
        start_code=0xDD,
    ),
    OPTIONS_RESERVED | octets_ignored(54, 107),
)

ONE_SLOT = Golden(
    "E1.31 data, one slot, the least of everything",  # Tables 4-1, 5-4, 6-5, 7-8; 127 octets
    (
        *E131_START,
        ("706f", "flags and length: 111"),
        ("00000004", "root vector"),
        CID_ROW,
        ("7059", "flags and length: 89"),
        ("00000002", "framing vector"),
        ("4c" + "00" * 63, "source name: 'L'"),
        ("00", "priority: 0"),
        ("0000", "synchronization address: none"),
        ("00", "sequence number"),
        ("00", "options"),
        ("0001", "universe: 1"),
        ("700c", "flags and length: 12"),
        ("02", "DMP vector"),
        ("a1", "address and data type"),
        ("0000", "first property address"),
        ("0001", "address increment"),
        ("0002", "property value count: 2"),
        ("00", "START code"),
        ("80", "slots"),
    ),
    DataPacket(CID, "L", 1, bytes([128]), priority=0),
    OPTIONS_RESERVED | octets_ignored(46, 107),
)

G2 = Golden(
    "E1.31 synchronization",  # Tables 4-2, 5-4, 6-6; always 49 octets
    (
        *E131_START,
        ("7021", "flags and length: 33"),
        ("00000008", "root vector: extended"),
        CID_ROW,
        ("700b", "flags and length: 11"),
        ("00000001", "framing vector: synchronization"),
        ("4d", "sequence number: 77"),
        ("1b59", "synchronization address: 7001"),
        ("0000", "reserved"),
    ),
    SyncPacket(CID, 7001, 77),
    octets_ignored(47, 48),  # 6.3.4: reserved, ignored by receivers
)

DISCOVERY = Golden(
    "E1.31 universe discovery, three universes",  # Tables 4-3, 5-4, 6-7, 8-9; 126 octets
    (
        *E131_START,
        ("706e", "flags and length: 126 - 16"),
        ("00000008", "root vector: extended"),
        CID_ROW,
        ("7058", "flags and length: 126 - 38"),
        ("00000002", "framing vector: discovery"),
        ("426f6174686f757365" + "00" * 55, "source name: 'Boathouse'"),
        ("00000000", "reserved"),
        ("700e", "flags and length: 126 - 112"),
        ("00000001", "universe discovery vector"),
        ("0102", "page, the second, and last page, the third: neither can be wrong alone"),
        ("0001" + "012c" + "f9ff", "list of universes: 1, 300, 63999"),
    ),
    DiscoveryPacket(CID, "Boathouse", (1, 300, 63999), page=1, last_page=2),
    # 6.4.3: reserved, ignored by receivers; 6.2.2: the name ends at its first zero.
    octets_ignored(54, 107) | octets_ignored(108, 111),
)

EMPTY_DISCOVERY = Golden(
    "E1.31 universe discovery of a source that sends nothing",  # clause 8.5: an empty list, 120 octets
    (
        *E131_START,
        ("7068", "flags and length: 104"),
        ("00000008", "root vector: extended"),
        CID_ROW,
        ("7052", "flags and length: 82"),
        ("00000002", "framing vector: discovery"),
        ("4c" + "00" * 63, "source name: 'L'"),
        ("00000000", "reserved"),
        ("7008", "flags and length: 8"),
        ("00000001", "universe discovery vector"),
        ("00", "page"),
        ("00", "last page"),
    ),
    DiscoveryPacket(CID, "L", ()),
    octets_ignored(46, 107) | octets_ignored(108, 111),
)

ART_ID: Row = ("4172742d4e657400", "ID: 'Art-Net' and a zero")
PROT_VER: Row = ("000e", "ProtVer: 14, high octet first")
# ProtVer: 14 and every later version is accepted. The bits that turn 14 into a later one are the eight
# of the high octet, and in the low octet those that are 0 in 14.
LATER_VERSION = {10: 0xFF, 11: 0xFF & ~0x0E}

G3 = Golden(
    "ArtDmx, 6 slots",  # Art-Net 4, ArtDmx
    (
        ART_ID,
        ("0050", "OpCode: 0x5000, low octet first"),
        PROT_VER,
        ("81", "Sequence: 129"),
        ("02", "Physical: 2"),
        ("a305", "SubUni and Net: Port-Address 1443 = 5:10:3, low octet first"),
        ("0006", "Length, high octet first"),
        ("0b2d47638fc5", "Data"),
    ),
    ArtDmx(1443, bytes([11, 45, 71, 99, 143, 197]), 129, 2),
    LATER_VERSION,
)

FULL_DMX = Golden(
    "ArtDmx, 512 slots, the largest Port-Address",  # Art-Net 4, ArtDmx; 530 octets
    (
        ART_ID,
        ("0050", "OpCode"),
        PROT_VER,
        ("00", "Sequence: ordering off"),
        ("00", "Physical"),
        ("ff7f", "SubUni and Net: 127:15:15"),
        ("0200", "Length: 512"),
        ("ff00" * 256, "Data"),
    ),
    ArtDmx(32767, bytes([255, 0]) * 256),
    LATER_VERSION,
)

ART_SYNC = Golden(
    "ArtSync",  # Art-Net 4, ArtSync; 14 octets
    (ART_ID, ("0052", "OpCode: 0x5200"), PROT_VER, ("0000", "Aux1 and Aux2, sent as zero")),
    ArtSync(),
    LATER_VERSION | octets_ignored(12, 13),
)

ART_POLL = Golden(
    "ArtPoll",  # Art-Net 4, ArtPoll; 22 octets
    (
        ART_ID,
        ("0020", "OpCode: 0x2000"),
        PROT_VER,
        ("26", "Flags: targeted, diagnostics, reply on change"),
        ("40", "DiagPriority: medium"),
        ("05a3", "target Port-Address top: 1443, high octet first"),
        ("0010", "target Port-Address bottom: 16, high octet first"),
        ("7ff0", "EstaMan: the prototype code, high octet first here"),
        ("00ff", "Oem: unknown"),
    ),
    ArtPoll(
        PollFlags.TARGETED | PollFlags.DIAGNOSTICS | PollFlags.REPLY_ON_CHANGE, 0x40, 1443, 16, 0x7FF0, 0x00FF
    ),
    LATER_VERSION | {12: 0xC1},  # bits 7, 6 and 0 of Flags are unused
    optional_from=12,
)

G4 = Golden(
    "ArtPollReply",  # Art-Net 4, ArtPollReply; 239 octets
    (
        ART_ID,
        ("0021", "OpCode: 0x2100"),
        ("0a0b0c0d", "IP address: 10.11.12.13"),
        ("3619", "Port: 0x1936, low octet first"),
        ("0203", "VersInfo, high octet first"),
        ("05", "NetSwitch"),
        ("0a", "SubSwitch"),
        ("00ff", "Oem"),
        ("07", "Ubea version"),
        ("d2", "Status1"),
        ("f07f", "EstaMan: 0x7FF0, low octet first here"),
        ("737472616e642d6e6f6465" + "00" * 7, "short name: 'strand-node', 18 octets"),
        ("537472616e64206e6f64652c2062656e636820756e69742034" + "00" * 39, "long name, 64 octets"),
        ("2330303031205b303034325d20506f7765722d6f6e20746573747320706173736564" + "00" * 30, "NodeReport"),
        ("0001", "NumPorts"),
        ("80000000", "PortTypes"),
        ("08000000", "GoodInput"),
        ("83000000", "GoodOutputA"),
        ("01000000", "SwIn"),
        ("03000000", "SwOut"),
        ("75", "AcnPriority"),
        ("11", "SwMacro"),
        ("22", "SwRemote"),
        ("000000", "spare"),
        ("00", "Style"),
        ("021b3d5f7193", "MAC"),
        ("0a0b0c0d", "BindIp"),
        ("01", "BindIndex"),
        ("1d", "Status2"),
        ("c0000000", "GoodOutputB"),
        ("28", "Status3"),
        ("7ff001020304", "DefaultRespUID"),
        ("5a5b", "User"),
        ("003c", "RefreshRate"),
        ("04", "BackgroundQueuePolicy"),
        ("00" * 10, "filler"),
    ),
    ArtPollReply(
        ip=IPv4Address("10.11.12.13"),
        port=6454,
        version=0x0203,
        net_switch=5,
        sub_switch=10,
        oem=0x00FF,
        ubea_version=7,
        status1=0xD2,
        esta=0x7FF0,
        short_name="strand-node",
        long_name="Strand node, bench unit 4",
        node_report="#0001 [0042] Power-on tests passed",
        num_ports=1,
        port_types=bytes([0x80, 0, 0, 0]),
        good_input=bytes([0x08, 0, 0, 0]),
        good_output_a=bytes([0x83, 0, 0, 0]),
        sw_in=bytes([1, 0, 0, 0]),
        sw_out=bytes([3, 0, 0, 0]),
        acn_priority=117,
        sw_macro=0x11,
        sw_remote=0x22,
        style=0,
        mac=bytes([0x02, 0x1B, 0x3D, 0x5F, 0x71, 0x93]),
        bind_ip=IPv4Address("10.11.12.13"),
        bind_index=1,
        status2=0x1D,
        good_output_b=bytes([0xC0, 0, 0, 0]),
        status3=0x28,
        default_resp_uid=bytes([0x7F, 0xF0, 1, 2, 3, 4]),
        user=0x5A5B,
        refresh_rate=60,
        background_queue_policy=4,
    ),
    # Zero-terminated text: what follows the first zero of each field; then the spare and filler octets.
    octets_ignored(38, 43)
    | octets_ignored(70, 107)
    | octets_ignored(143, 171)
    | octets_ignored(197, 199)
    | octets_ignored(229, 238),
    optional_from=198,
)

E131 = (G1, FULL_DATA, ONE_SLOT, G2, DISCOVERY, EMPTY_DISCOVERY)
ARTNET = (G3, FULL_DMX, ART_SYNC, ART_POLL, G4)
