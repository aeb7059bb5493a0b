"""Frames to come as what each changes in the packets of the one before: of many packets, copies are dear."""

from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.engine.course_in_short import CourseInShort
from streamer.engine.pacing import Due, are_same
from streamer.engine.ready import Act, LaterPiece
from streamer.engine.scatter import Patches
from streamer.engine.streams import Streams
from streamer.net.prepared import Piece
from streamer.net.sender import Sender

Cut = Callable[[Sequence[Due], float], list[tuple[float, Due]]]
"""Cuts a frame's packets, of a period in seconds, in pieces; says how long after the first each goes."""
Packed = tuple[list[Act], tuple[LaterPiece, ...]]
"""What writes a frame and sends its first piece, and the pieces that go later."""


class Patching:
    """Packs frames for the streams of a stage. Each is written when it goes, over the one before."""

    def __init__(self, streams: Streams, sender: Sender, cut: Cut) -> None:
        self._streams, self._sender, self._cut = streams, sender, cut
        self._every = [np.arange(len(batch.keys)) for batch in streams.batches]
        self._patches: list[Patches] = []
        self._has_changed: Sequence[bool] = ()
        self._rows: list[list[Indices]] = []
        """Which rows of each batch go with each frame."""
        self._dues: list[Due] = []
        self._period_s = 0.0
        self._pieces: list[tuple[float, Due]] = []
        self._prepared: list[Piece] = []
        """What was cut last, and as it is given to the sender: the same list for the same pieces."""

    def pack(self, moments_s: Sequence[float], period_s: float, course: CourseInShort) -> list[Packed]:
        """Return what sends each of these frames, due at these moments; none that a keep-alive comes before.

        To the streams it is as if all of them had been sent.
        """
        batches, frames = self._streams.batches, len(moments_s)
        self._patches = [batch.patches(course.changes, frames) for batch in batches]
        self._has_changed = course.has_changed
        numbers: list[Bytes] = [np.empty((frames, len(batch.keys)), np.uint8) for batch in batches]
        if self._streams.every_one_goes([patches.changed for patches in self._patches], moments_s):
            for batch, of_batch in zip(batches, numbers, strict=True):
                batch.number_all(of_batch)
            self._rows = [self._every] * frames
        else:
            self._rows = self._numbered_in_turn(moments_s, numbers)
        return [
            self._packed(number, rows, numbers, self._leaving(rows, period_s))
            for number, rows in enumerate(self._rows)
        ]

    def have_gone(self, number: int, now_s: float) -> None:
        """Let the streams know that the packets of that frame have gone at `now_s`, or will without fail."""
        self._streams.have_sent(self._changes(number), self._rows[number], now_s)

    def _changes(self, number: int) -> list[NDArray[np.bool_] | None]:
        """Return which packets of each batch that frame changes; None where it is the one before."""
        return [patches.changed[number] if self._has_changed[number] else None for patches in self._patches]

    def _numbered_in_turn(self, moments_s: Sequence[float], numbers: list[Bytes]) -> list[list[Indices]]:
        """Give the packets of each frame their numbers; return which rows of each batch go with it."""
        streams, rows_of_frames = self._streams, []
        for number, moment_s in enumerate(moments_s):
            if streams.wake_s < moment_s:
                break
            rows_of_frames.append(streams.at_written_frame(self._changes(number), moment_s))
            for batch, of_batch, rows in zip(streams.batches, numbers, rows_of_frames[-1], strict=True):
                of_batch[number] = of_batch[number - 1] if number else batch.numbers
                if len(rows):
                    batch.number(rows, of_batch[number])
        return rows_of_frames

    def _leaving(self, rows_of_batches: list[Indices], period_s: float) -> list[LaterPiece]:
        """Return the pieces of a frame with these rows of each batch."""
        dues = [due for due in zip(self._streams.batches, rows_of_batches, strict=False) if len(due[1])]
        if period_s != self._period_s or not are_same(dues, self._dues):
            self._dues, self._period_s = dues, period_s
            self._pieces = self._cut(dues, period_s)
            self._prepared = [(batch.packets, rows, batch.destinations) for _, (batch, rows) in self._pieces]
        departures = self._sender.prepare(self._prepared)
        return [
            LaterPiece(after_s, depart, due)
            for (after_s, due), depart in zip(self._pieces, departures, strict=True)
        ]

    def _packed(
        self, number: int, rows_of_batches: list[Indices], numbers: list[Bytes], pieces: list[LaterPiece]
    ) -> Packed:
        acts: list[Act] = [
            partial(batch.patch, *patches.writes[number], of_batch[number])
            for batch, rows, patches, of_batch in zip(
                self._streams.batches, rows_of_batches, self._patches, numbers, strict=True
            )
            if len(rows)
        ]
        acts += [piece.depart for piece in pieces if not piece.after_s]
        return acts, tuple(piece for piece in pieces if piece.after_s)
