"""What the engine and its clients say to each other: small, typed, frozen messages.

A client says hello, may hold control, and then plays, steps, changes and stops. The engine answers
with its state five times a second and, when something is refused, with the reason.
"""

from enum import StrEnum
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from streamer.display.model import Display
from streamer.flash_rule import FLASHES_PER_S

LEVEL_DEFAULT_PERCENT = 30.0
RATE_DEFAULT_HZ = 40.0
RATE_LOW_HZ = 1.0
RATE_HIGH_HZ = 44.0
"""A full DMX512-A packet of 512 slots takes 22.7 ms at the least (ANSI E1.11): 44.1 a second, which is
also what ANSI E1.31-2018 clause 6.6.1 and Art-Net 4 allow a source to send to one universe."""

SYNC_GAP_DEFAULT_MS = 1.0
"""ANSI E1.31-2018 clause 11.2.2 asks for a small one: receivers may still be taking in the levels."""
SYNC_GAP_MAX_MS = 20.0
"""Shorter than a frame at the highest rate."""


FLASHES_MOST_PER_S = int(RATE_HIGH_HZ / 2)
"""A light that changes with every frame."""
WORD_CHARACTERS = 80

DIMMED_TOLD = 8
"""Of fuses and supplies at their limit: a person reads no more at a glance."""


class Message(BaseModel):
    """A frozen message; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Leash(StrEnum):
    """What becomes of a run when nobody is attached any more who has asked for control."""

    LEASHED = "leashed"
    """Dark, streams ended, after a short grace: work by hand."""
    FREE = "free"
    """It goes on by itself."""


class Setup(Message):
    """What a run is set up on: where its packets go and how."""

    display: Display
    interface: str | None = None
    """Name or address; without one the operating system chooses for each destination."""
    ttl: Annotated[int, Field(ge=0, le=255)] = 1
    source_name: Annotated[str, Field(max_length=63)] = "Ropewalk"
    every_frame: bool = False
    """Send every frame to every universe, whether it changed or not (against E1.31 6.6.2)."""
    spread: Annotated[float, Field(ge=0, le=0.9)] | None = None
    """Which part of a frame its packets are spread over; 0 is all at once. Without one, frames of more than
    100 packets are spread over 10 ms."""
    sync_gap_ms: Annotated[float, Field(ge=0, le=SYNC_GAP_MAX_MS)] = SYNC_GAP_DEFAULT_MS
    """Between a frame's last packet and the synchronization packet, where a controller is to have one."""
    seconds: Annotated[float, Field(gt=0)] | None = None
    """How long to play; then dark and end."""
    record: Path | None = None
    """A new capture file, absolute, that keeps what is sent."""
    leash: Leash = Leash.LEASHED
    flashes_per_s: Annotated[int, Field(ge=1, le=FLASHES_MOST_PER_S)] | None = None
    """The most in any second; without one what the display says. More than three need the word."""
    understood: Annotated[str, Field(max_length=WORD_CHARACTERS)] = ""
    """The word that a person typed for that (streamer.engine.flash_limit); never from a file."""


class Show(Message):
    """What is to be seen. May change at any moment while the streams go on."""

    pattern: str
    params: dict[str, int | float | bool | str] = {}
    pace: Annotated[float, Field(ge=0)] | None = None
    """Steps a second; 0 is by hand; without one the pattern's own."""
    ports: tuple[str, ...] | None = None
    """Names of the ports that show it, the rest being dark; all without."""
    level_percent: Annotated[float, Field(ge=0, le=100)] = LEVEL_DEFAULT_PERCENT
    rate_hz: Annotated[float, Field(ge=RATE_LOW_HZ, le=RATE_HIGH_HZ)] = RATE_DEFAULT_HZ


class Hello(Message):
    """The first message of a client."""

    kind: Literal["hello"] = "hello"
    client: Annotated[str, Field(max_length=80)]
    """In words, for the others to see: "screen, process 4711"."""
    control: bool
    """Whether it wants control, should that be free, and so minds a leashed run; else it only looks."""


class TakeControl(Message):
    """Take control, from whoever holds it."""

    kind: Literal["take"] = "take"


class Play(Message):
    """Begin: lay out the streams and show this. A run in progress is replaced without a dark frame."""

    kind: Literal["play"] = "play"
    setup: Setup
    show: Show


class Change(Message):
    """Show something else on the same streams."""

    kind: Literal["change"] = "change"
    show: Show


class Step(Message):
    """Take the pattern in hand and step it; it stays in hand until `Pause(on=False)`."""

    kind: Literal["step"] = "step"
    by: int


class Jump(Message):
    """Take the pattern in hand at this step, from 0."""

    kind: Literal["jump"] = "jump"
    step: int


class Pause(Message):
    """Hold the pattern in hand, or let it run at its pace."""

    kind: Literal["pause"] = "pause"
    on: bool


class Dark(Message):
    """All lights dark at once, streams going on; or back."""

    kind: Literal["dark"] = "dark"
    on: bool


class Loosen(Message):
    """Change what becomes of the run when nobody is attached."""

    kind: Literal["loosen"] = "loosen"
    leash: Leash


class Calm(Message):
    """Let lights flash so often in any second from now on: never more than is safe for most."""

    kind: Literal["calm"] = "calm"
    flashes_per_s: Annotated[int, Field(ge=1, le=FLASHES_PER_S)]


class Stop(Message):
    """Dark, then end the streams as the standard asks. The engine waits for the next run."""

    kind: Literal["stop"] = "stop"


Request = Annotated[
    Hello | TakeControl | Play | Change | Step | Jump | Pause | Dark | Loosen | Calm | Stop,
    Field(discriminator="kind"),
]


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
    errors: dict[str, int] = {}
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
    ways: dict[str, str] = {}
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


class Refused(Message):
    """A request was not done: why, and what to do instead."""

    kind: Literal["refused"] = "refused"
    request: str
    reason: str


class Ended(Message):
    """A run is over: lights dark, streams ended."""

    kind: Literal["ended"] = "ended"
    reason: str
    counts: Counts
    lateness: Lateness
    seconds: float
    complaints: tuple[str, ...] = ()
    """All that went wrong, each where and with what to do."""
    ways: dict[str, str] = {}
    cpu_share: float = 0
    scheduling: str = ""
    carrier_lost: bool = False
    """Whether at any time an interface that packets leave by had nothing at its other end."""


Report = Annotated[Plan | Status | Refused | Ended, Field(discriminator="kind")]

REQUESTS: TypeAdapter[Request] = TypeAdapter(Request)
REPORTS: TypeAdapter[Report] = TypeAdapter(Report)
