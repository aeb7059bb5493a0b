"""The newest frame, shared between processes: one writes, any number look, nobody waits.

A file of this user's own, mapped into memory: a header, then the nodes, then the fixture channels. A
counter is odd while the writer writes, so a reader that met a write takes another look.
"""

import contextlib
import mmap
import struct
import time
from pathlib import Path

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.errors import LinkError

MAGIC = 0x726F7065
HEADER = np.dtype(
    [("magic", "<u4"), ("nodes", "<u4"), ("channels", "<u4"), ("turn", "<u4"), ("number", "<u8")]
)
TURN, NUMBER = struct.Struct("<I"), struct.Struct("<Q")
TURN_AT, NUMBER_AT = 12, 16
"""Where in the header they are."""
TURN_MASK = 2**32 - 1
USER_ONLY = 0o600
DRAFT = ".draft"
LOOKS = 50
PAUSE_S = 0.001
"""A writer that lost its core in the middle of a frame has it again within some milliseconds."""


class NewestFrame:
    """The mapped file, for its writer (`create`) or a reader (`open`)."""

    def __init__(self, path: Path, mapped: mmap.mmap) -> None:
        self.path = path
        self._mapped = mapped
        self._header = np.frombuffer(mapped, HEADER, 1)
        self._turn, self._number = int(self._header["turn"][0]), int(self._header["number"][0])
        nodes = int(self._header["nodes"][0])
        self._channels_at = HEADER.itemsize + nodes * COMPONENTS
        rest = np.frombuffer(mapped, np.uint8)[HEADER.itemsize :]
        self._nodes: Bytes = rest[: nodes * COMPONENTS].reshape(-1, COMPONENTS)
        self._channels: Bytes = rest[nodes * COMPONENTS :]

    @classmethod
    def create(cls, path: Path, nodes: int, channels: int) -> "NewestFrame":
        """Make the file for frames of so many nodes and channels; LinkError when that cannot be."""
        header = np.zeros(1, HEADER)
        header["magic"], header["nodes"], header["channels"] = MAGIC, nodes, channels
        draft = path.with_name(path.name + DRAFT)
        try:
            draft.unlink(missing_ok=True)
            draft.touch(mode=USER_ONLY)
            # Written out, not left as a hole: a full disk is told now, not by a fault in the middle of a run.
            draft.write_bytes(header.tobytes() + bytes(nodes * COMPONENTS + channels))
            draft.replace(path)
        except OSError as error:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)
            raise LinkError(f"{path}: the shared frame cannot be made ({error.strerror}).") from error
        return cls._map(path, mmap.ACCESS_WRITE)

    @classmethod
    def open(cls, path: Path) -> "NewestFrame":
        """Open a file for looking; LinkError if it is not there or not one."""
        return cls._map(path, mmap.ACCESS_READ)

    @classmethod
    def _map(cls, path: Path, access: int) -> "NewestFrame":
        try:
            with path.open("r+b" if access == mmap.ACCESS_WRITE else "rb") as file:
                mapped = mmap.mmap(file.fileno(), 0, access=access)
        except (OSError, ValueError) as error:
            raise LinkError(f"{path}: the shared frame cannot be opened ({error}).") from error
        if not _is_frame(mapped):
            mapped.close()
            raise LinkError(f"{path}: is not a shared frame.")
        return cls(path, mapped)

    def write(self, frame: Frame) -> None:
        """Put a frame in the place of the last one."""
        # As octets: an engine does this in each frame, with cold caches, where NumPy takes ten times as long.
        mapped, turn, self._turn = self._mapped, self._turn, self._turn + 2
        self._number += 1
        TURN.pack_into(mapped, TURN_AT, turn + 1 & TURN_MASK)
        mapped[HEADER.itemsize : self._channels_at] = np.ascontiguousarray(frame.nodes).data
        mapped[self._channels_at :] = np.ascontiguousarray(frame.channels).data
        NUMBER.pack_into(mapped, NUMBER_AT, self._number)
        TURN.pack_into(mapped, TURN_AT, turn + 2 & TURN_MASK)

    def look(self) -> tuple[int, Frame]:
        """Return the newest frame, copied, and its number (0: none yet).

        LinkError when it stays half written for `LOOKS` times `PAUSE_S`.
        """
        for _ in range(LOOKS):
            turn = int(self._header["turn"][0])
            number, frame = int(self._header["number"][0]), Frame(self._nodes.copy(), self._channels.copy())
            if turn % 2 == 0 and turn == int(self._header["turn"][0]):
                return number, frame
            time.sleep(PAUSE_S)
        raise LinkError(f"{self.path}: the shared frame stands half written; its writer has gone.")

    def remove(self) -> None:
        """Take the file away; readers that have it open keep the last frame."""
        self.path.unlink(missing_ok=True)


def _is_frame(mapped: mmap.mmap) -> bool:
    """Say whether this is a header with exactly the octets that it announces."""
    if len(mapped) < HEADER.itemsize:
        return False
    header = np.frombuffer(mapped[: HEADER.itemsize], HEADER)[0]
    announced = HEADER.itemsize + int(header["nodes"]) * COMPONENTS + int(header["channels"])
    return bool(header["magic"] == MAGIC) and len(mapped) == announced
