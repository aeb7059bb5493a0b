"""A display as plain, frozen, checked values. It reads no files and knows no packets.

Universe numbers are E1.31 universes (1 to 63999) or Art-Net Port-Addresses (0 to 32767), by the
controller's protocol.
"""

from enum import StrEnum
from itertools import permutations
from typing import Annotated

from pydantic import Field

from streamer.display.electrics import (
    INJECTIONS_LIMIT,
    SUPPLIES_LIMIT,
    Amps,
    Injection,
    Lead,
    NodeKind,
    Supply,
    Wire,
)
from streamer.display.part import Part
from streamer.flash_rule import FLASHES_PER_S
from streamer.wire.acn import UNIVERSE_MAX

SLOTS_PER_UNIVERSE = 512
"""ANSI E1.11 and E1.31: slots are numbered 1 to 512."""

COLOUR_ORDERS = frozenset("".join(order) for colours in ("RGB", "RGBW") for order in permutations(colours))
"""The 6 orders of RGB and the 24 of RGBW."""

NODES_LIMIT = 4_000 * 170
"""Most nodes in a display: as many as 4,000 universes of 170 RGB nodes hold. Bounds memory."""

SPACING_LIMIT_MM = 10_000
"""No two neighbours on a string are further apart than 10 m."""

LENGTH_LIMIT_MM = 1_000_000
"""No segment is longer than a kilometre."""

MULTICAST = "multicast"
"""The address of a controller that is reached through the groups of ANSI E1.31 clause 9."""
MULTICAST_IPV6 = "multicast6"
"""The same by the groups of IPv6 (ANSI E1.31-2018 clause 9.3.2)."""
GROUPS = frozenset({MULTICAST, MULTICAST_IPV6})


class Protocol(StrEnum):
    """How a controller is spoken to."""

    E131 = "e131"
    ARTNET = "artnet"


class Addressing(StrEnum):
    """What becomes of a node that does not fit at a universe's end."""

    ALIGNED = "aligned"
    """The node moves to the next universe whole: 170 RGB nodes (510 slots) a universe."""
    PACKED = "packed"
    """The node is split: its first slots end one universe, the rest begin the next."""


class Role(StrEnum):
    """What a fixture's channel does."""

    DIMMER = "dimmer"
    RED = "red"
    GREEN = "green"
    BLUE = "blue"
    WHITE = "white"
    AMBER = "amber"
    UV = "uv"
    STROBE = "strobe"
    PAN = "pan"
    TILT = "tilt"
    OTHER = "other"
    UNUSED = "unused"


Point = tuple[float, float, float]
"""x to the right, y up, z towards the viewer, in metres."""

Slot = Annotated[int, Field(ge=1, le=SLOTS_PER_UNIVERSE)]
NodeCount = Annotated[int, Field(ge=1, le=10_000)]
Skip = Annotated[int, Field(ge=0, le=100)]
Priority = Annotated[int, Field(ge=0, le=200)]
"""ANSI E1.31-2018 clause 6.2.3."""
SyncAddress = Annotated[int, Field(ge=0, le=UNIVERSE_MAX)]
"""ANSI E1.31-2018 clause 6.2.4; 0 is not synchronized."""
Octet = Annotated[int, Field(ge=0, le=255)]
FlashLimit = Annotated[int, Field(ge=1, le=FLASHES_PER_S)]
"""Lighting up is a flash: with none allowed nothing could ever be lit."""


class Segment(Part):
    """One rigid or flexible piece of a string."""

    nodes: NodeCount
    spacing_mm: Annotated[float, Field(gt=0, le=SPACING_LIMIT_MM)] | None = None
    length_mm: Annotated[float, Field(gt=0, le=LENGTH_LIMIT_MM)] | None = None
    """As the person wrote it, where the nodes were worked out from it."""
    start: Point | None = None
    """Where its first node hangs; the nodes lie on the line to `end`."""
    end: Point | None = None


class Port(Part):
    """One data output of a controller, and the string on it."""

    name: str
    """Unique in the display: "controller/number", as shown everywhere."""
    label: str = ""
    """What the person calls the string."""
    number: Annotated[int, Field(ge=1, le=100_000)]
    """In a file up to 10,000; neighbours count on from there."""
    universe: int
    slot: Slot = 1
    colour_order: str = "RGB"
    """One of `COLOUR_ORDERS`: the colours in the order of a node's slots."""
    reversed: bool = False
    """The string is fed at its far end: its last node is first on the line."""
    skip: Skip = 0
    """Nodes on the line before the string's first, always dark."""
    chip: str | None = None
    """What the nodes are driven by: a name of `CHIPS` (streamer/display/chips.py)."""
    segments: tuple[Segment, ...]
    node_kind: str | None = None
    """One of the display's or of the built-in ones (streamer/display/node_kinds.py)."""
    supply: str | None = None
    lead: Lead | None = None
    """From the supply to one spacing before the first node on the line."""
    fuse_a: Amps | None = None
    """The rating of the fuse before that lead."""
    wire: Wire | None = None
    """Each of the string's own two conductors."""
    injections: Annotated[tuple[Injection, ...], Field(max_length=INJECTIONS_LIMIT)] = ()
    neighbour: bool = False
    """Not in the plan: stands for a universe next to a planned one."""

    @property
    def nodes(self) -> int:
        """How many nodes the string has."""
        return sum(segment.nodes for segment in self.segments)


class Fixture(Part):
    """A DMX light, patched by its start slot."""

    name: str
    universe: int
    slot: Slot = 1
    channels: tuple[Role, ...]
    position: Point | None = None


class Controller(Part):
    """A network device that turns universes into data lines."""

    name: str
    protocol: Protocol
    address: str
    """An IPv4 address; for E1.31 also one of IPv6, `multicast` or `multicast6`."""
    addressing: Addressing = Addressing.ALIGNED
    slots: Slot = SLOTS_PER_UNIVERSE
    """Slots in every packet; even for Art-Net."""
    priority: Priority = 100
    sync_address: SyncAddress = 0
    preview: bool = False
    """ANSI E1.31-2018 clause 6.2.6, Preview_Data."""
    force_synchronization: bool = False
    """ANSI E1.31-2018 clause 6.2.6, Force_Synchronization."""
    start_code: Octet = 0
    """ANSI E1.11 START code; E1.31 only."""
    physical: Octet = 0
    """Art-Net 4 ArtDmx, Physical."""
    sequence: bool = True
    """Whether ArtDmx carries a sequence (1 to 255) or 0, which turns ordering off."""
    art_sync: bool = False
    """Art-Net 4 ArtSync: whether the controller's nodes show a frame when all of it has come."""
    ports: tuple[Port, ...] = ()
    fixtures: tuple[Fixture, ...] = ()


class Display(Part):
    """Everything being commissioned."""

    name: str
    controllers: tuple[Controller, ...]
    supplies: Annotated[tuple[Supply, ...], Field(max_length=SUPPLIES_LIMIT)] = ()
    node_kinds: Annotated[tuple[NodeKind, ...], Field(max_length=SUPPLIES_LIMIT)] = ()
    flashes_per_s: FlashLimit = FLASHES_PER_S
    """No light flashes more often in any second; a display can only ask for less than is safe for most."""

    @property
    def ports(self) -> tuple[Port, ...]:
        """Every port of every controller, in file order."""
        return tuple(port for controller in self.controllers for port in controller.ports)
