"""The keys of a display file, as a person writes them: each with its kind, its range and an example.

Friendlier than the model: lengths have units, a plain string is `nodes = 72`. Nothing is converted here
but single values; `file.py` turns whole tables into the model.
"""

from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from streamer.display.addresses import canonical
from streamer.display.chips import CHIPS
from streamer.display.electrics import Amps
from streamer.display.keys import NAME_WORDS, FilePart, Label, Name, key
from streamer.display.model import (
    LENGTH_LIMIT_MM,
    SLOTS_PER_UNIVERSE,
    SPACING_LIMIT_MM,
    Addressing,
    FlashLimit,
    NodeCount,
    Octet,
    Priority,
    Protocol,
    Role,
    Skip,
    Slot,
    SyncAddress,
)
from streamer.display.numbering import UNIVERSE_RANGE
from streamer.display.schema_power import (
    FUSE,
    LEAD,
    NODE_KIND_WORDS,
    SUPPLY,
    WIRE,
    FileLead,
    Injections,
    NodeKinds,
    ReadWire,
    Supplies,
)
from streamer.display.units import length_mm
from streamer.flash_rule import FLASHES_PER_S
from streamer.wire.port_address import parse_triple

FAR_M = 10_000.0
"""No light hangs further than this from the origin, in metres."""
SEGMENTS_LIMIT = 10_000
"""Of one string: none is shorter than a node."""

E131_FIRST, E131_LAST = UNIVERSE_RANGE[Protocol.E131]
ARTNET_FIRST, ARTNET_LAST = UNIVERSE_RANGE[Protocol.ARTNET]


def _segments(value: object) -> object:
    return [_segment(entry) for entry in value] if isinstance(value, list) else value


def _segment(entry: object) -> object:
    """Read "8 ft" as the length and 36 as the nodes of a segment of which no more is said."""
    if isinstance(entry, str):
        return {"length": entry}
    return {"nodes": entry} if type(entry) is int else entry


def _chip(value: str) -> str:
    if value not in CHIPS:
        raise ValueError("is no chip whose timing is known")
    return value


def _port_address(value: object) -> object:
    return parse_triple(value) if isinstance(value, str) else value


def _no_slash(value: str) -> str:
    if "/" in value:
        raise ValueError("has a slash")
    return value


LENGTH_WORDS = "text: a length over 0 and up to {}, with its unit (mm, cm, m, in, ft)"
POINT_WORDS = "two or three numbers, in metres: x to the right, y up, z towards the viewer"

Metres = Annotated[float, Field(ge=-FAR_M, le=FAR_M, allow_inf_nan=False)]
FilePoint = Annotated[list[Metres], Field(min_length=2, max_length=3)]
Spacing = Annotated[float, BeforeValidator(length_mm), Field(gt=0, le=SPACING_LIMIT_MM)]
Length = Annotated[float, BeforeValidator(length_mm), Field(gt=0, le=LENGTH_LIMIT_MM)]


Universe = Annotated[int, Field(ge=E131_FIRST, le=E131_LAST), key("universe = 1")]
PortAddress = Annotated[
    int,
    BeforeValidator(_port_address),
    Field(ge=ARTNET_FIRST, le=ARTNET_LAST),
    key('port_address = 19, or port_address = "0:1:3"', "0 to 32767, or text from 0:0:0 to 127:15:15"),
]


class FileSegment(FilePart):
    """One piece of a string."""

    nodes: Annotated[NodeCount, key("nodes = 36")] = 0
    length: Annotated[Length, key('length = "8 ft"', LENGTH_WORDS.format("1 km"))] = 0.0
    spacing: Annotated[Spacing, key('spacing = "75 mm"', LENGTH_WORDS.format("10 m"))] = 0.0
    start: Annotated[FilePoint, key("start = [0, 1, 0]", POINT_WORDS)] = []
    end: Annotated[FilePoint, key("end = [2.6, 1, 0]", POINT_WORDS)] = []


class FilePort(FilePart):
    """One `[[controllers.ports]]`."""

    number: Annotated[int, Field(ge=1, le=10_000), key("number = 1")]
    label: Annotated[Label, key('label = "Rail, left"', NAME_WORDS.replace("1 to", "up to"))] = ""
    universe: Universe = 0
    port_address: PortAddress = 0
    slot: Annotated[Slot, key("slot = 1")] = 1
    colour_order: Annotated[
        str, key('colour_order = "GRB"', "text: the letters RGB or RGBW in any order")
    ] = "RGB"
    reversed: Annotated[bool, key("reversed = true")] = False
    skip: Annotated[Skip, key("skip = 1")] = 0
    chip: Annotated[
        str, AfterValidator(_chip), key('chip = "WS2811"', f"text, one of: {', '.join(CHIPS)}")
    ] = ""
    spacing: Annotated[Spacing, key('spacing = "75 mm"', LENGTH_WORDS.format("10 m"))] = 0.0
    nodes: Annotated[NodeCount, key("nodes = 72")] = 0
    segments: Annotated[
        list[FileSegment],
        BeforeValidator(_segments),
        Field(min_length=1, max_length=SEGMENTS_LIMIT),
        key("segments = [ { nodes = 36 }, { nodes = 36 } ]", f"a list of 1 to {SEGMENTS_LIMIT} segments"),
    ] = []
    node_kind: Annotated[Name | None, key('node_kind = "12 V constant current"', NODE_KIND_WORDS)] = None
    supply: Annotated[Name | None, SUPPLY] = None
    fuse: Annotated[Amps | None, FUSE] = None
    lead: Annotated[FileLead | None, LEAD] = None
    wire: Annotated[ReadWire | None, WIRE] = None
    injections: Injections = []


class FileFixture(FilePart):
    """One `[[controllers.fixtures]]`."""

    name: Annotated[Name, key('name = "Flood, boat door"', NAME_WORDS)]
    universe: Universe = 0
    port_address: PortAddress = 0
    slot: Annotated[Slot, key("slot = 1")] = 1
    channels: Annotated[
        list[Annotated[Role, Field(strict=False)]],
        Field(min_length=1, max_length=SLOTS_PER_UNIVERSE),
        key(
            'channels = ["dimmer", "red", "green", "blue"]',
            f"a list of what each channel does: {', '.join(Role)}",
        ),
    ]
    position: Annotated[FilePoint, key("position = [1.0, 0.2, 0]", POINT_WORDS)] = []


class FileController(FilePart):
    """One `[[controllers]]`; its ports and fixtures are read apart."""

    name: Annotated[
        Name, AfterValidator(_no_slash), key('name = "jetty"', f"{NAME_WORDS} and without a slash (/)")
    ]
    protocol: Annotated[
        Protocol, Field(strict=False), key('protocol = "e131"', '"e131" (sACN) or "artnet" (Art-Net)')
    ]
    address: Annotated[
        str,
        AfterValidator(canonical),
        key(
            'address = "192.168.7.20"',
            'text: an IPv4 address; for E1.31 also an IPv6 address, "multicast" or "multicast6"',
        ),
    ]
    addressing: Annotated[
        Addressing,
        Field(strict=False),
        key('addressing = "aligned"', '"aligned" (whole nodes only) or "packed" (a node may be split)'),
    ] = Addressing.ALIGNED
    slots: Annotated[Slot, key("slots = 512")] = SLOTS_PER_UNIVERSE
    priority: Annotated[Priority, key("priority = 100")] = 100
    sync_address: Annotated[SyncAddress, key("sync_address = 7999")] = 0
    preview: Annotated[bool, key("preview = false")] = False
    force_synchronization: Annotated[bool, key("force_synchronization = false")] = False
    start_code: Annotated[Octet, key("start_code = 0")] = 0
    physical: Annotated[Octet, key("physical = 0")] = 0
    sequence: Annotated[bool, key("sequence = true")] = True
    art_sync: Annotated[bool, key("art_sync = false")] = False
    ports: Annotated[list[Any], key("[[controllers.ports]]", "a list of tables")] = []
    fixtures: Annotated[list[Any], key("[[controllers.fixtures]]", "a list of tables")] = []


class FileDisplay(FilePart):
    """The whole file; its controllers are read apart."""

    name: Annotated[Name, key('name = "Boathouse"', NAME_WORDS)]
    controllers: Annotated[list[Any], key("[[controllers]]", "a list of tables")] = []
    supplies: Supplies = []
    node_kinds: NodeKinds = []
    flashes_per_s: Annotated[
        FlashLimit,
        key(
            "flashes_per_s = 1",
            "1 to 3: more than three flashes in a second can bring on seizures in photosensitive people "
            "(WCAG 2.3.1), and no file may allow them",
        ),
    ] = FLASHES_PER_S
