"""What an engine is on the network from its first run to its last: one source, whatever it plays."""

from collections.abc import Callable
from dataclasses import dataclass, field
from uuid import UUID

from streamer.display.patch import StreamKey
from streamer.engine.discovery import Discovery

SequenceBook = dict[StreamKey, int]


@dataclass(slots=True)
class Source:
    """The parts of a source that outlive a run."""

    cid: UUID
    sequences: SequenceBook = field(default_factory=dict)
    """The last number of every stream: one that comes back counts on (ANSI E1.31-2018 clause 6.2.5)."""
    sync_sequences: dict[int, int] = field(default_factory=dict)
    """The last number of every synchronization address, counted apart from any data (clause 6.3.2)."""
    discovery: Discovery = field(default_factory=Discovery)
    recalls: list[Callable[[frozenset[StreamKey]], None]] = field(default_factory=list)
    """For every run that is not closed, how the streams that it says farewell to are had back."""

    def recall(self, keys: frozenset[StreamKey]) -> None:
        """Let no run say farewell to these streams any more: they are wanted again."""
        for recall in self.recalls:
            recall(keys)
