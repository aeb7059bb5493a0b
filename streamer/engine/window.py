"""Where the frames of a run can be looked at as they go out."""

from collections.abc import Callable
from typing import Protocol

from patterns.plain import Bytes, Frame
from streamer.display.slots import Indices
from streamer.engine.changes import Words

Shows = Callable[[], None]
"""Shows one frame that was laid by."""


class Window(Protocol):
    """Shows one frame at a time: streamer.link.newest is one for other processes."""

    def write(self, frame: Frame, altered: Indices | None = None) -> None:
        """Show a frame; `altered` nodes, where they are given, alone differ from the one written last."""

    def alter(self, lights: Indices, words: Words) -> None:
        """Show the frame that is shown with these lights at these octets, each as one number: (K,)."""

    def lay_by(self, nodes: Bytes, channels: Bytes) -> list[Shows]:
        """Return what shows each of these frames, (F, N, 4) and (F, C); those of an earlier call are void."""


class Closed:
    """Nobody looks."""

    def write(self, _frame: Frame, _altered: Indices | None = None) -> None:
        """Show nothing."""

    def alter(self, _lights: Indices, _words: Words) -> None:
        """Show nothing."""

    def lay_by(self, nodes: Bytes, _channels: Bytes) -> list[Shows]:
        """Return what shows nothing."""
        return [_nothing] * len(nodes)


def _nothing() -> None:
    """Show nothing."""
