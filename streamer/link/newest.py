"""The newest frame, shared between processes: one writes, any number look, nobody waits.

A file of this user's own, mapped into memory: a header, then the nodes, then the fixture channels. A
counter is odd while the writer writes, so a reader that met a write takes another look.
"""

import mmap
from pathlib import Path

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.errors import LinkError

MAGIC = 0x726F7065
HEADER = np.dtype([("magic", "<u4"), ("nodes", "<u4"), ("channels", "<u4"), ("turn", "<u4"), ("number", "<u8")])
USER_ONLY = 0o600
LOOKS = 100


class NewestFrame:
    """The mapped file, for its writer (`create`) or a reader (`open`)."""

    def __init__(self, path: Path, mapped: mmap.mmap) -> None:
        self.path = path
        self._mapped = mapped
        self._header = np.frombuffer(mapped, HEADER, 1)
        nodes, channels = int(self._header["nodes"][0]), int(self._header["channels"][0])
        size = HEADER.itemsize
        self._nodes: Bytes = np.frombuffer(mapped, np.uint8, nodes * COMPONENTS, size).reshape(-1, COMPONENTS)
        self._channels: Bytes = np.frombuffer(mapped, np.uint8, channels, size + nodes * COMPONENTS)

    @classmethod
    def create(cls, path: Path, nodes: int, channels: int) -> "NewestFrame":
        """Make the file for frames of so many nodes and channels."""
        header = np.zeros(1, HEADER)
        header["magic"], header["nodes"], header["channels"] = MAGIC, nodes, channels
        path.unlink(missing_ok=True)
        path.touch(mode=USER_ONLY)
        path.write_bytes(header.tobytes() + bytes(nodes * COMPONENTS + channels))
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
        if len(mapped) < HEADER.itemsize or np.frombuffer(mapped, HEADER, 1)["magic"][0] != MAGIC:
            raise LinkError(f"{path}: is not a shared frame.")
        return cls(path, mapped)

    def write(self, frame: Frame) -> None:
        """Put a frame in the place of the last one."""
        self._header["turn"] += 1
        self._nodes[:] = frame.nodes
        self._channels[:] = frame.channels
        self._header["number"] += 1
        self._header["turn"] += 1

    def look(self) -> tuple[int, Frame]:
        """Return the newest frame, copied, and its number (0: none yet)."""
        for _ in range(LOOKS):
            turn = int(self._header["turn"][0])
            number, frame = int(self._header["number"][0]), Frame(self._nodes.copy(), self._channels.copy())
            if turn % 2 == 0 and turn == int(self._header["turn"][0]):
                return number, frame
        raise LinkError(f"{self.path}: the shared frame stands half written; its writer has gone.")

    def remove(self) -> None:
        """Take the file away; readers that have it open keep the last frame."""
        self.path.unlink(missing_ok=True)
