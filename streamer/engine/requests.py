"""What clients ask of an engine."""

from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from streamer.engine.playing import Leash, Message, Setup, Show
from streamer.flash_rule import FLASHES_PER_S


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
REQUESTS: TypeAdapter[Request] = TypeAdapter(Request)
