"""What the lights show: the demo's packets go through the yard's virtual controllers, and are compared."""

from dataclasses import dataclass

import numpy as np

from patterns.plain import Bytes
from streamer.demo.promise import Promise
from streamer.display.model import Display, Protocol
from streamer.display.patch import Patch
from streamer.net.receiver import Datagram
from streamer.yard.yard import Yard

WHITE = 3


@dataclass(frozen=True, slots=True)
class Look:
    """What all lights showed at one step of a show."""

    show: str
    step: int
    """From 0, not wrapped."""
    nodes: int
    nodes_wrong: int
    channels: int
    channels_wrong: int

    @property
    def is_right(self) -> bool:
        """Whether every light showed what the pattern has at this step."""
        return not (self.nodes_wrong or self.channels_wrong)


class Lights:
    """The lights of a display, as its controllers would light them."""

    def __init__(self, display: Display, patch: Patch) -> None:
        self._yard = Yard(display)
        self._has_white = patch.layout.has_white

    def take(self, protocol: Protocol, datagram: Datagram, now_s: float) -> None:
        """Let the controllers have a datagram."""
        self._yard.take(datagram.payload, protocol, now_s, datagram.source[0], datagram.destination)
        self._yard.expire(now_s)

    def compare(self, promise: Promise, step: int) -> Look:
        """Compare with what a show promises at a step."""
        seen, wanted = self._yard.seen(), promise.frame(step)
        return Look(
            show=promise.name,
            step=step,
            nodes=len(seen.nodes),
            nodes_wrong=int((self._lit(seen.nodes) != self._lit(wanted.nodes)).any(axis=1).sum()),
            channels=len(seen.channels),
            channels_wrong=int((seen.channels != wanted.channels).sum()),
        )

    def _lit(self, nodes: Bytes) -> Bytes:
        """Return nodes without the white that an RGB node does not have."""
        lit = nodes.copy()
        lit[~self._has_white, WHITE] = 0
        return np.asarray(lit)
