"""The packets of a batch as they will be with the next frames."""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.engine.batch import Batch


class Copies:
    """So many copies of a batch, one for each frame; each the same object for ever."""

    def __init__(self, batch: Batch, frames: int) -> None:
        self.batch = batch
        rows, length = batch.packets.shape
        # A row more than there are: what no packet carries is written there.
        matrices = np.zeros((frames, rows + 1, length), np.uint8)
        self._flats = matrices.reshape(frames, -1)
        self._packets = matrices[:, :rows]
        self.of_frame: list[Bytes] = list(self._packets)

    def write(self, nodes: Bytes, channels: Bytes) -> NDArray[np.bool_]:
        """Write frames, (F, N, 4) and (F, C), and say which packets each changes: (F, packets)."""
        batch, frames = self.batch, len(nodes)
        self._packets[:frames] = batch.packets
        batch.write_each(nodes, channels, self._flats[:frames])
        slots = self._packets[:frames, :, batch.slots_octet :]
        changed = np.empty(slots.shape[:2], np.bool_)
        np.logical_or.reduce(slots[0] != batch.packets[:, batch.slots_octet :], axis=1, out=changed[0])
        np.logical_or.reduce(slots[1:] != slots[:-1], axis=2, out=changed[1:])
        return changed

    def number_all(self, frames: int) -> None:
        """Give numbers to so many frames, each of which sends all packets."""
        self.batch.number_all(self._packets[:frames, :, self.batch.sequence_octet])

    def number(self, frame: int, rows: Indices) -> None:
        """Give the packets of a frame the numbers of the frame before, and those of these rows the next."""
        before = self._numbers_of(self.of_frame[frame - 1]) if frame else self.batch.numbers
        numbers = self._numbers_of(self.of_frame[frame])
        numbers[:] = before
        if len(rows):
            self.batch.number(rows, numbers)

    def _numbers_of(self, packets: Bytes) -> Bytes:
        return packets[:, self.batch.sequence_octet]
