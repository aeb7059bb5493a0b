"""The packets of frames to come: written, numbered and on the point of going before any of them is due."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Frame
from streamer.display.slots import Indices
from streamer.engine.copies import Copies
from streamer.engine.stage import Foreseen
from streamer.engine.streams import Streams
from streamer.net.prepared import Departure, Piece
from streamer.net.sender import Sender

Changed = list[NDArray[np.bool_] | None]
"""Which packets of each batch a frame changes; None where it is the one before."""


class Packing:
    """Packs so many frames at a time for the streams of a stage. What has been packed is packed over."""

    def __init__(self, streams: Streams, sender: Sender, most_frames: int) -> None:
        self._streams, self._sender = streams, sender
        self._copies = [Copies(batch, most_frames) for batch in streams.batches]
        self._all = [np.arange(len(batch.keys)) for batch in streams.batches]
        self._every = self._pieces([self._all] * most_frames)
        """Of so many frames with all their packets."""
        self._changed: Sequence[NDArray[np.bool_]] = ()
        """Which packets of each batch differ from those of the frame before: (F, packets)."""
        self._is_new: list[bool] = []
        """Whether each frame is another than the one before it."""
        self._rows: list[list[Indices]] = []
        """Which rows of each batch go with each frame."""

    def pack(self, moments_s: Sequence[float], foreseen: Foreseen) -> list[list[Departure]]:
        """Return what sends each of these frames, due at these moments; none that a keep-alive comes before.

        To the streams it is as if all of them had been sent.
        """
        frames = foreseen.frames
        self._changed = [copies.write(foreseen.nodes, foreseen.channels) for copies in self._copies]
        if self._streams.every_one_goes(self._changed, moments_s):
            self._streams.written, self._rows = frames[-1], [self._all] * len(frames)
            return self._packed_whole(len(frames))
        self._rows = self._numbered_in_turn(moments_s, frames)
        departures = iter(self._sender.prepare(self._pieces(self._rows)))
        return [[next(departures) for rows in rows_of_batches if len(rows)] for rows_of_batches in self._rows]

    def stand_at(self, number: int) -> None:
        """Let the streams' own packets be as they are with that frame, which has been sent."""
        for copies in self._copies:
            copies.batch.packets[:] = copies.of_frame[number]

    def _changes(self, number: int) -> Changed:
        """Return which packets of each batch that frame changes."""
        return [each[number] if self._is_new[number] else None for each in self._changed]

    def have_gone(self, number: int, now_s: float) -> None:
        """Let the streams know that the packets of that frame have gone at `now_s`."""
        self._streams.have_sent(self._changes(number), self._rows[number], now_s)

    def _packed_whole(self, frames: int) -> list[list[Departure]]:
        """Give numbers to so many frames, and return what sends each of them with all its packets."""
        for copies in self._copies:
            copies.number_all(frames)
        self._is_new = [True] * frames
        batches = len(self._copies)
        # Always all there may be: the very same list is quick to prepare again.
        departures = self._sender.prepare(self._every)
        return [departures[at : at + batches] for at in range(0, frames * batches, batches)]

    def _numbered_in_turn(self, moments_s: Sequence[float], frames: list[Frame]) -> list[list[Indices]]:
        """Give the packets of each frame their numbers; return which rows of each batch go with it."""
        streams, rows_of_frames = self._streams, []
        self._is_new = []
        for number, (moment_s, frame) in enumerate(zip(moments_s, frames, strict=True)):
            if streams.wake_s < moment_s:
                break
            self._is_new.append(frame is not streams.written)
            streams.written = frame
            rows_of_frames.append(streams.at_written_frame(self._changes(number), moment_s))
            for copies, rows in zip(self._copies, rows_of_frames[-1], strict=True):
                copies.number(number, rows)
        return rows_of_frames

    def _pieces(self, rows_of_frames: list[list[Indices]]) -> list[Piece]:
        return [
            (copies.of_frame[number], rows, copies.batch.destinations)
            for number, rows_of_batches in enumerate(rows_of_frames)
            for copies, rows in zip(self._copies, rows_of_batches, strict=True)
            if len(rows)
        ]
