"""Frames that only wait for their moment, and how they were made."""

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from streamer.engine.pacing import Due
from streamer.engine.player import Reached
from streamer.net.prepared import Departure

Act = Callable[[], None]


class LaterPiece(NamedTuple):
    """A piece of a frame that goes after the first."""

    after_s: float
    """How long after the frame has begun."""
    depart: Departure
    due: Due
    """The packets that it sends."""


class Ready(NamedTuple):
    """A frame that only waits for its moment."""

    number: int
    moment_s: float
    acts: list[Act]
    """What sends its first piece and, if it is another picture and somebody looks, shows it."""
    later: tuple[LaterPiece, ...]
    """The other pieces."""
    reached: Reached
    """Where the player is with this frame."""


Sent = tuple[Ready, float]
"""A frame, and when it went."""


class Made(Protocol):
    """Some frames made ahead of a stage: to its guard and cadences, all of them have been sent."""

    ready: list[Ready]
    """All of them, the first one first; one at least."""
    foreseen: int
    """How many frames that may be seen were made, those among them that cannot be ready."""

    def keep(self) -> None:
        """Take it that all of them have gone."""

    def go_back_to(self, sent: Sequence[Sent]) -> None:
        """Let guard, cadences and packets follow these, the first of them, and nothing else."""
