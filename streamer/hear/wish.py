"""What a listener is to listen to."""

from pydantic import Field

from streamer.display.model import Display, Protocol
from streamer.display.patch import compile_patch
from streamer.hear.messages import Message


class Wish(Message):
    """What to listen to, and by which interface."""

    universes: dict[Protocol, tuple[int, ...]] = Field(default_factory=dict)
    """Those that are asked for, which are told even when they are silent; their groups are joined."""
    protocols: tuple[Protocol, ...] = tuple(Protocol)
    """Whose ports are listened to; whatever comes there is told, asked for or not."""
    interface: str | None = None
    """Name or address; without one all are heard, and the system chooses where groups are joined."""
    joined_by: tuple[str, ...] = ()
    """Names of interfaces: where none is chosen, groups are joined on each of these that is there."""
    discover: bool = False
    """Also join the group of every universe that universe discovery announces."""


def universes_of(display: Display) -> dict[Protocol, tuple[int, ...]]:
    """Return the universes of a display, by protocol."""
    keys = {stream.key for stream in compile_patch(display).streams}
    return {
        protocol: tuple(sorted({key.universe for key in keys if key.protocol is protocol}))
        for protocol in Protocol
        if any(key.protocol is protocol for key in keys)
    }
