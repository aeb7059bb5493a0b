"""What an engine tells its clients."""

from enum import StrEnum
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from streamer.engine.playing import Leash, Message, Setup, Show
from streamer.flash_rule import FLASHES_PER_S

DIMMED_TOLD = 8
"""Of fuses and supplies at their limit: a person reads no more at a glance."""


class State(StrEnum):
    """What the engine is doing, in one word that is shown large."""

    IDLE = "idle"
    RUNNING = "running"
    IN_HAND = "in hand"
    DARK = "dark"
    ENDING = "ending"


class LatenessBin(Message):
    """How many frames were this late: no more than `up_to_us`, but more than that of the bin before."""

    up_to_us: float | None
    """None for all that were later still."""
    frames: int


class Lateness(Message):
    """How late frames were, in microseconds, since the run began."""

    p50_us: float = 0
    p90_us: float = 0
    p99_us: float = 0
    p999_us: float = 0
    """One frame in a thousand was later."""
    max_us: float = 0
    bins: tuple[LatenessBin, ...] = ()
    """The histogram: every bin of `streamer.engine.clock.BIN_EDGES_US`, in order."""


class Counts(Message):
    """What has happened since the run began."""

    frames: int = 0
    """Frames whose moment came and was kept."""
    late: int = 0
    """Frames more than a tenth of a period late."""
    skipped: int = 0
    """Frames whose moment passed altogether: never sent later in a burst."""
    held: int = 0
    """Frames held back because they would have flashed too often in a second."""
    dimmed: int = 0
    """Frames dimmed because a fuse or a supply would have carried too much."""
    packets: int = 0
    octets: int = 0
    synchronizations: int = 0
    """Synchronization packets, which are in `packets` no more than universe discovery is."""
    errors: dict[str, int] = Field(default_factory=dict)
    """Failed sends by the operating system's name for the error, such as ENETUNREACH."""


class Dimmed(Message):
    """A fuse or a supply that would carry too much, and how far what feeds on it is dimmed for that."""

    name: str
    """Of the port ("jetty/1"), the injection ("jetty/1 after node 50") or the supply."""
    is_supply: bool = False
    asked_a: float
    limit_a: float
    """For hours: less than its rating."""
    percent: float
    """To which part of the light asked for."""

    @property
    def words(self) -> str:
        """In a few words."""
        kind = "supply " if self.is_supply else ""
        return f"{kind}{self.name} to {self.percent:.0f} % ({self.limit_a:.1f} of {self.asked_a:.1f} A)"


class Plan(Message):
    """What the engine now plays on: told to every client when it changes, and to each new one."""

    kind: Literal["plan"] = "plan"
    number: int
    setup: Setup
    frame_path: str
    """The shared newest frame of the display in `setup`, as sent (streamer.link.newest)."""
    cid: str = ""
    """What its E1.31 packets carry: receivers, and listeners, tell sources apart by it (clause 5.6)."""


class Status(Message):
    """The engine's state, told to every client five times a second and after every request."""

    kind: Literal["status"] = "status"
    state: State
    plan: int = 0
    """The number of the `Plan` that this belongs to; 0 while idle."""
    show: Show | None = None
    pace: float = 0
    step: int = 0
    steps: int = 1
    now_showing: str = ""
    """The pattern's own line about this step: "node 37 of 120"."""
    seconds: float = 0
    """Since the run began."""
    universes: int = 0
    counts: Counts = Counts()
    lateness: Lateness = Lateness()
    flashes_per_s: int = FLASHES_PER_S
    """The most that a light may have in any second."""
    dimmed: tuple[Dimmed, ...] = ()
    """What dims the frame now sent, the strictest first; at most `DIMMED_TOLD`."""
    complaints: tuple[str, ...] = ()
    """What is wrong just now, each where and with what to do; what is over is not in it any more."""
    ways: dict[str, str] = Field(default_factory=dict)
    """How packets go to each address: "offload", many as one for the kernel to cut; "sendmmsg", many in one
    call; "sendto", one by one; and which better way was refused. Empty where one by one is all there is."""
    cpu_share: float = 0
    """Of one core, that the engine's process has used since the run began: 0.01 is a hundredth."""
    scheduling: str = ""
    """How punctual the operating system lets the engine be, and how to allow it more."""
    carrier_lost: bool = False
    """Whether an interface that packets leave by has nothing at its other end."""
    route: str = ""
    """Which interface the packets leave by, in words."""
    synchronization: str = ""
    """Where synchronization packets go, in words; empty when there are none."""
    control: str = ""
    """The client that holds control; empty when nobody does."""
    yours: bool = False
    """Whether that is the client who reads this."""
    clients: tuple[str, ...] = ()
    leash: Leash = Leash.LEASHED


class Refusal(StrEnum):
    """Why a request was not done, for a program to decide by; the words beside it are for a person."""

    NO_HELLO = "no hello"
    NO_CONTROL = "no control"
    """Another client holds it, or nobody does."""
    NOTHING_PLAYS = "nothing plays"
    ENDING = "ending"
    """The engine begins nothing any more."""
    CANNOT_BE = "cannot be"
    """What was asked does not fit the display, or the operating system refuses it."""


class Refused(Message):
    """A request was not done: why, and what to do instead."""

    kind: Literal["refused"] = "refused"
    request: str
    why: Refusal
    reason: str
    """In words, which may change: nothing is to be decided by them."""


class Ended(Message):
    """A run is over: lights dark, streams ended."""

    kind: Literal["ended"] = "ended"
    reason: str
    counts: Counts
    lateness: Lateness
    seconds: float
    complaints: tuple[str, ...] = ()
    """All that went wrong, each where and with what to do."""
    ways: dict[str, str] = Field(default_factory=dict)
    cpu_share: float = 0
    scheduling: str = ""
    carrier_lost: bool = False
    """Whether at any time an interface that packets leave by had nothing at its other end."""


Report = Annotated[Plan | Status | Refused | Ended, Field(discriminator="kind")]
REPORTS: TypeAdapter[Report] = TypeAdapter(Report)
