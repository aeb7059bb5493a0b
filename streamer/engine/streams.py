"""All streams of a patch: their packets, when each is sent, and how they pass on to the next patch."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Frame
from streamer.display.model import Protocol
from streamer.display.patch import Patch, StreamKey
from streamer.display.slots import Indices
from streamer.engine.batch import Batch, lay_out_batches
from streamer.engine.cadence import KEEP_ALIVE_S, NEVER_S, Cadence
from streamer.engine.difference import EVERY, Chosen
from streamer.engine.farewell import Farewell
from streamer.engine.messages import Setup
from streamer.engine.pacing import Due
from streamer.wire.e131 import SYNC_ADDRESS_NONE


class Streams:
    """The streams of one patch, in batches of equal packets with a cadence each."""

    def __init__(self, patch: Patch, cid: UUID, setup: Setup) -> None:
        self._batches = [
            (batch, Cadence(len(batch.keys), every_frame=setup.every_frame))
            for batch in lay_out_batches(patch, cid, setup.source_name)
        ]
        self.written: Frame | None = None
        """What the packets show."""
        self.keys: frozenset[StreamKey] = frozenset(stream.key for stream in patch.streams)
        self.e131_universes = _e131_universes(patch)

    @property
    def batches(self) -> list[Batch]:
        """The batches that are still sent from here."""
        return [batch for batch, _ in self._batches]

    @property
    def cadences(self) -> list[Cadence]:
        """When the streams of each batch send."""
        return [cadence for _, cadence in self._batches]

    def go_back_to(self, cadences: Sequence[Cadence], written: Frame | None) -> None:
        """Take these cadences in place of what there is, in the order of the batches."""
        self._batches = list(zip(self.batches, cadences, strict=True))
        self.written = written

    @property
    def wake_s(self) -> float:
        """The moment at which the next keep-alive is due."""
        return min((cadence.wake_s for _, cadence in self._batches), default=NEVER_S)

    def at_frame(self, frame: Frame, altered: Chosen, now_s: float, *, bursts: bool = False) -> list[Due]:
        """Write a frame, and return the packets that it changes or that are due anyway.

        `altered` nodes are the only ones that may differ from the frame written last. Where it `bursts`,
        what a frame changes goes alone and once.
        """
        if frame is self.written:
            return [(batch, cadence.at_frame(None, now_s)) for batch, cadence in self._batches]
        is_first = self.written is None
        self.written = frame
        changed = [batch.write(frame, EVERY if is_first else altered) for batch, _ in self._batches]
        is_burst = bursts and not is_first and any(each.any() for each in changed)
        return [
            (batch, (cadence.in_burst if is_burst else cadence.at_frame)(rows, now_s))
            for (batch, cadence), rows in zip(self._batches, changed, strict=True)
        ]

    def at_written_frame(self, changed: Sequence[NDArray[np.bool_] | None], now_s: float) -> list[Indices]:
        """Return which packets of each batch go with a frame that changes these, and is written already."""
        return [
            cadence.at_frame(rows, now_s) for (_, cadence), rows in zip(self._batches, changed, strict=True)
        ]

    def have_sent(
        self, changed: Sequence[NDArray[np.bool_] | None], rows_of_batches: Sequence[Indices], now_s: float
    ) -> None:
        """Take it that these packets of each batch have gone at `now_s`, with a frame that changes those."""
        for (_, cadence), changes, rows in zip(self._batches, changed, rows_of_batches, strict=True):
            cadence.has_sent(changes, rows, now_s)

    def every_one_goes(self, changed: Sequence[NDArray[np.bool_]], moments_s: Sequence[float]) -> bool:
        """Whether every packet goes with each of some frames; if so, it is as if all of them had been sent.

        `changed` are (F, packets) for each batch.
        """
        is_kept_alive = all(later_s - at_s < KEEP_ALIVE_S for at_s, later_s in pairwise(moments_s))
        if self.wake_s < moments_s[0] or not is_kept_alive or not all(each.all() for each in changed):
            return False
        for _, cadence in self._batches:
            cadence.all_change(moments_s[-1])
        return True

    def between_frames(self, now_s: float) -> list[Due]:
        """Return the keep-alives that are due before the next frame."""
        return [(batch, cadence.between_frames(now_s)) for batch, cadence in self._batches]

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
        return farewells


def _e131_universes(patch: Patch) -> frozenset[int]:
    """Return the universes of levels and of synchronization: discovery lists both (E1.31-2018 clause 8)."""
    e131 = [stream for stream in patch.streams if stream.key.protocol is Protocol.E131]
    sync_addresses = {stream.controller.sync_address for stream in e131} - {SYNC_ADDRESS_NONE}
    return frozenset(stream.key.universe for stream in e131) | sync_addresses
