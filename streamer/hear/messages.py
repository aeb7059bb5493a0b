"""What a listener and its clients say to each other, and what `ropewalk hear --json` prints a line of."""

from enum import StrEnum
from typing import Annotated, Literal
from uuid import UUID

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from streamer.display.model import Protocol
from streamer.display.ranges import UNIVERSES_LIMIT

SLOTS_MAX = 512


class Message(BaseModel):
    """A frozen message; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Life(StrEnum):
    """Whether a source is there."""

    LIVE = "live"
    TERMINATED = "terminated"
    """It said itself that it has stopped (ANSI E1.31-2018 clause 6.2.6)."""
    TIMED_OUT = "timed out"
    """Silent for 2.5 s (clause 6.7.1; Art-Net gives no such time, the same is used)."""


class Standing(StrEnum):
    """What becomes of a source's levels beside the others of its universe (E1.31-2018 clause 6.2.3)."""

    WINS = "wins"
    """It alone has the highest priority, or is alone."""
    SHARES = "shares"
    """Another has the same priority, or it is Art-Net, which has none: receivers merge or choose, as made."""
    OUTRANKED = "outranked"
    """Another has a higher priority."""
    NONE = "none"
    """Its levels do not count: it is gone, or sends previews or no levels at all."""


class SourceHeard(Message):
    """One source of one universe."""

    name: str
    """As it calls itself, made harmless; "" for Art-Net, which has no names in levels."""
    cid: str
    """ANSI E1.31-2018 clause 5.6; "" for Art-Net, which tells sources apart by `address` and `physical`."""
    address: str
    physical: int | None = None
    sent_to: str = ""
    """The address that its newest packet was sent to; a group, this machine or all."""
    priority: int | None = None
    """0 to 200; None for Art-Net."""
    standing: Standing
    life: Life
    fps: float
    """Packets in order in the last second."""
    jitter_ms: float | None = None
    """Standard deviation of the time between packets in the last second; None of fewer than two."""
    gap_ms: float | None = None
    """The longest time between two of them."""
    packets: int
    """In order, since it was first heard."""
    lost: int
    """Missing by their sequence numbers; one that came late is out of order, and not lost."""
    lost_here: int = 0
    """Of those, as many as this machine may have dropped for want of buffer; what is beyond was lost on the
    wire. Each gap counts by what was dropped, of whatever source, between the two packets around it."""
    out_of_order: int
    """Discarded by their sequence numbers."""
    slots: int
    start_codes: tuple[int, ...]
    """All that came; 0 is levels."""
    preview: bool = False
    sync_address: int = 0
    """0 is not synchronized."""
    is_synchronized: bool = False
    """Whether synchronization packets for that address come."""
    seen_s_ago: float


class UniverseHeard(Message):
    """One universe (or Port-Address): who sends it."""

    protocol: Protocol
    universe: int
    text: str
    """As it is written for people: "universe 7", "Port-Address 19 (0:1:3)"."""
    is_asked: bool
    """Whether it was asked for; the others came by themselves."""
    sources: tuple[SourceHeard, ...]
    """Those that win first; empty where nothing is heard."""


class Watched(Message):
    """A universe looked at closely."""

    protocol: Protocol
    universe: int
    slot: int | None
    """From 1."""
    levels: tuple[int, ...]
    """Of its slots: of the source that wins, the highest of several that share; empty where none is live."""
    history: tuple[tuple[float, int], ...] = ()
    """When (seconds, as in `Heard`) the slot had which level, packet by packet, the newest last."""


class SocketHeard(Message):
    """One socket, and what did not reach the table."""

    protocol: Protocol
    port: int
    groups: int
    """Joined, of IPv4."""
    groups_ipv6: int = 0
    without_ipv6: str = ""
    """Why groups of IPv6 are not heard; empty where they are, and for Art-Net, which has none."""
    buffer_octets: int
    """As the system gave it."""
    beside: str = ""
    """Who else on this machine holds the port, in words: what is sent to this machine alone goes there."""
    datagrams: int
    dropped: int | None
    """Lost in this machine for want of buffer, not on the wire; None where the system does not tell, or while
    a client has its own packets ignored."""
    malformed: int
    """No packets of the standard; `last_malformed` says what is wrong with one of the latest."""
    last_malformed: str = ""
    other: int
    """Packets of the protocol that carry no levels: polls and replies of Art-Net, discovery of E1.31."""
    strays: int
    """Came in by another interface than the one asked for."""
    refused: int
    """Of sources or universes that there was no room to remember."""
    forgotten: int
    """Sources that made room for newer ones."""


class Announced(Message):
    """What a source says that it sends (universe discovery, ANSI E1.31-2018 clause 8)."""

    name: str
    cid: str
    address: str
    universes: tuple[int, ...]


class Heard(Message):
    """All that is heard at one moment: told to every client once a second."""

    kind: Literal["heard"] = "heard"
    seconds: float
    """Since listening began."""
    interface: str
    """"" for all."""
    universes: tuple[UniverseHeard, ...]
    """In the order of their numbers, those asked for included that are silent."""
    sockets: tuple[SocketHeard, ...]
    announced: tuple[Announced, ...] = ()
    watched: Watched | None = None
    notes: tuple[str, ...] = ()
    """What a person should know, in sentences."""


class Watch(Message):
    """Look closely at a universe, and at a slot of it; at none with `universe` None."""

    kind: Literal["watch"] = "watch"
    protocol: Protocol = Protocol.E131
    universe: int | None
    slot: Annotated[int, Field(ge=1, le=SLOTS_MAX)] | None = None


class Listen(Message):
    """Ask for these universes from now on."""

    kind: Literal["listen"] = "listen"
    protocol: Protocol = Protocol.E131
    universes: Annotated[tuple[int, ...], Field(max_length=UNIVERSES_LIMIT)]


class Discover(Message):
    """Ask for what universe discovery announces as well, or no longer."""

    kind: Literal["discover"] = "discover"
    on: bool


class Ignore(Message):
    """Pass over the packets of one CID, one's own come back; over none with None."""

    kind: Literal["ignore"] = "ignore"
    cid: UUID | None


class Close(Message):
    """End the listener."""

    kind: Literal["close"] = "close"


class Refused(Message):
    """A request was not done: why, and what to do instead."""

    kind: Literal["refused"] = "refused"
    request: str
    reason: str


Request = Annotated[Watch | Listen | Discover | Ignore | Close, Field(discriminator="kind")]
Report = Annotated[Heard | Refused, Field(discriminator="kind")]

REQUESTS: TypeAdapter[Request] = TypeAdapter(Request)
REPORTS: TypeAdapter[Report] = TypeAdapter(Report)
