"""All streams of a patch: their packets, when each is sent, and how they pass on to the next patch."""

from collections.abc import Mapping
from uuid import UUID

import numpy as np

from patterns.plain import Frame
from streamer.display.patch import Patch, StreamKey
from streamer.engine.batch import lay_out_batches
from streamer.engine.cadence import NEVER_S, Cadence
from streamer.engine.difference import differing_nodes
from streamer.engine.farewell import Farewell
from streamer.engine.messages import Setup
from streamer.engine.pacing import Pacing
from streamer.net.sender import Sender


class Streams:
    """The streams of one patch, in batches of equal packets with a cadence each."""

    def __init__(self, patch: Patch, cid: UUID, setup: Setup) -> None:
        self._batches = [
            (batch, Cadence(len(batch.keys), every_frame=setup.every_frame))
            for batch in lay_out_batches(patch, cid, setup.source_name)
        ]
        self._pacing = Pacing(setup.spread)
        self._written: Frame | None = None
        self.keys: frozenset[StreamKey] = frozenset(stream.key for stream in patch.streams)

    @property
    def wake_s(self) -> float:
        """The moment at which the next piece of a frame, or the next keep-alive, is due."""
        return min(self._pacing.wake_s, *(cadence.wake_s for _, cadence in self._batches), NEVER_S)

    def send_frame(self, frame: Frame, sender: Sender, now_s: float, period_s: float) -> None:
        """Send the streams that a frame changes or that are due anyway, over a part of the period."""
        self._pacing.flush(sender)
        nodes = None if self._written is None else differing_nodes(frame.nodes, self._written.nodes)
        due = [
            (batch, cadence.at_frame(batch.write(frame, nodes), now_s)) for batch, cadence in self._batches
        ]
        self._written = frame
        self._pacing.put(due, now_s, period_s)
        self._pacing.tick(sender, now_s)

    def send_between(self, sender: Sender, now_s: float) -> None:
        """Send the pieces of the last frame, and the keep-alives, that are due before the next."""
        self._pacing.tick(sender, now_s)
        for batch, cadence in self._batches:
            batch.send(cadence.between_frames(now_s), sender)

    def sequences(self) -> dict[StreamKey, int]:
        """Return the last sequence number of every stream."""
        every = ((batch, np.arange(len(batch.keys))) for batch, _ in self._batches)
        return {key: number for batch, rows in every for key, number in batch.sequences(rows).items()}

    def resume(self, sequences: Mapping[StreamKey, int]) -> None:
        """Go on counting where earlier packets of the same streams stopped."""
        for batch, _ in self._batches:
            batch.resume(sequences)

    def go_on_from(self, before: "Streams") -> None:
        """Start with the slots and the sending times of the streams in both, patched alike in both."""
        for batch, cadence in self._batches:
            row_of = {key: row for row, key in enumerate(batch.keys)}
            for old, old_cadence in before._batches:  # noqa: SLF001  another of our own
                there = np.flatnonzero([key in row_of for key in old.keys])
                here = np.array([row_of[old.keys[row]] for row in there.tolist()], np.intp)
                if len(there):
                    batch.take_slots(old, there, here)
                    cadence.go_on_from(old_cadence, there, here)

    def leave(self, going_on: frozenset[StreamKey], now_s: float) -> list[Farewell]:
        """Begin the farewells of all streams but those in `going_on`; nothing else is sent from here on."""
        farewells = []
        for batch, _ in self._batches:
            rows = np.flatnonzero([key not in going_on for key in batch.keys])
            if len(rows):
                farewells.append(Farewell(batch, rows, now_s))
        self._batches = []
        self._pacing.clear()
        return farewells
