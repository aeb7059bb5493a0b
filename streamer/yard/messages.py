"""What the yard and its clients say to each other."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from streamer.yard.faults import Fault

BEYOND_TOLD = 500
"""Bounds what a status tells of a string that is longer than planned."""
HEX_OF_A_NODE = 8


class Message(BaseModel):
    """A frozen message; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class SetFaults(Message):
    """Give a port these faults, in place of those it had; none makes it healthy."""

    kind: Literal["faults"] = "faults"
    port: str
    faults: tuple[Fault, ...] = ()


class Close(Message):
    """End the yard."""

    kind: Literal["close"] = "close"


Request = Annotated[SetFaults | Close, Field(discriminator="kind")]


class PortSeen(Message):
    """What arrives at one port."""

    name: str
    packets: int
    lost: int
    """Missing by their sequence."""
    discarded: int
    """Wrong, out of order, or preview: not acted on."""
    is_live: bool
    """Whether a source is sending to it now (E1.31: a packet in the last 2.5 s, not terminated)."""
    lit: int
    """Nodes of the plan that are not dark."""
    beyond: int = 0
    """Nodes that are not dark beyond those planned; the shared frame has no place for them."""
    hung: int | None = None
    """Nodes that really hang there; the shared frame shows those that are missing as dark."""
    beyond_hex: Annotated[str, Field(max_length=BEYOND_TOLD * HEX_OF_A_NODE)] = ""
    """What the nodes beyond the plan show, four components each, of at most BEYOND_TOLD of them."""
    faults: tuple[str, ...] = ()
    """Its faults, in words."""


class YardStatus(Message):
    """The yard's state, told to every client five times a second."""

    kind: Literal["status"] = "status"
    frame_path: str
    """The shared newest frame of what the lights show, in layout order (streamer.link.newest)."""
    ports: tuple[PortSeen, ...]
    display: str = ""
    """The name of the display whose controllers it plays."""
    started_by: str = ""
    """The client that started the yard, in words; empty when it was started by hand."""
    note: str = ""
    """What is wrong with the yard itself, or with packets that belong to nobody; empty when nothing is."""


class Refused(Message):
    """A request was not done: why, and what to do instead."""

    kind: Literal["refused"] = "refused"
    request: str
    reason: str


Report = Annotated[YardStatus | Refused, Field(discriminator="kind")]

REQUESTS: TypeAdapter[Request] = TypeAdapter(Request)
REPORTS: TypeAdapter[Report] = TypeAdapter(Report)
