"""The newest frame, shared between processes: one writes, any number look, nobody waits.

A file of this user's own, mapped into memory: a header, then places for frames, each its nodes and then its
fixture channels. One word of the header says which place is shown, and for the how many-th time one is. What
is written is never that place, so a reader whose word is the same after it has copied the frame was not
overtaken. Frames that are known beforehand are laid by, many at once; to show one is then to write that word.
"""

import contextlib
import mmap
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.errors import LinkError
from streamer.link.folders import RUNTIME_VARIABLE

MAGIC = 0x726F7065
HEADER = np.dtype(
    [
        ("magic", "<u4"),
        ("nodes", "<u4"),
        ("channels", "<u4"),
        ("laid_by", "<u4"),
        ("shown", "u8"),
    ]
)
SHOWN = slice(16, 24)
"""Where in the header that word is: aligned, so that a processor writes it whole."""
PLACE_BITS = 16
"""The lowest of the word, the number being the rest: in one half also where it goes by halves of 32 bits."""
PLACE_MASK = (1 << PLACE_BITS) - 1
PLACES = 2
"""Of frames that are written when they are shown: in turn."""
HALVES = 2
"""Of the places for frames laid by: those of one are written while one of the other is shown."""
USER_ONLY = 0o600
DRAFT = ".draft"
NEVER = -1
LOOKS = 50
PAUSE_S = 0.001

Rows = NDArray[np.intp]


class NewestFrame:
    """The mapped file, for its writer (`create`) or a reader (`open`)."""

    def __init__(self, path: Path, mapped: mmap.mmap) -> None:
        self.path = path
        self._mapped = mapped
        self._header = np.frombuffer(mapped, HEADER, 1)
        # NumPy takes ten times as long with cold caches, and an engine writes this in each frame.
        self._shown = memoryview(mapped)[SHOWN].cast("Q")
        self._number, self._place = self._shown[0] >> PLACE_BITS, self._shown[0] & PLACE_MASK
        self._written = NEVER
        """The number that the frame had which was written last."""
        self._behind: Rows | None = None
        """The only nodes in which the other place is not what was written last; None where any may be."""
        self._laid_by = int(self._header["laid_by"][0])
        octets = int(self._header["nodes"][0]) * COMPONENTS
        places = np.frombuffer(mapped, np.uint8)[HEADER.itemsize :].reshape(_places(self._laid_by), -1)
        self._nodes: Bytes = places[:, :octets]
        self._channels: Bytes = places[:, octets:]

    @classmethod
    def create(cls, path: Path, nodes: int, channels: int, laid_by: int = 0) -> "NewestFrame":
        """Make the file for frames of so many nodes and channels; LinkError when that cannot be.

        `laid_by` is the most frames that are to be laid by at a time.
        """
        header = np.zeros(1, HEADER)
        header["magic"], header["nodes"], header["channels"] = MAGIC, nodes, channels
        header["laid_by"] = laid_by
        draft = path.with_name(path.name + DRAFT)
        try:
            draft.unlink(missing_ok=True)
            draft.touch(mode=USER_ONLY)
            # Written out, not left as a hole: a full disk is told now, not by a fault in the middle of a run.
            draft.write_bytes(header.tobytes() + bytes(_places(laid_by) * (nodes * COMPONENTS + channels)))
            draft.replace(path)
        except OSError as error:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)
            raise LinkError(
                f"{path}: the shared frame cannot be made ({error.strerror}). "
                f"Make room there, or set {RUNTIME_VARIABLE} to another folder of your own."
            ) from error
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

    def write(self, frame: Frame, altered: Rows | None = None) -> None:
        """Show a frame; `altered` nodes, where they are given, alone differ from the one written last.

        That is, if none that was laid by has been shown since.
        """
        altered = altered if self._number == self._written else None
        place = 1 if self._place == 0 else 0
        # 680 kB for 170,000 nodes: what is there already is left.
        if altered is None or self._behind is None:
            self._nodes[place] = frame.nodes.reshape(-1)
        else:
            rows = np.concatenate([self._behind, altered])
            self._words(place)[rows] = frame.nodes.view(np.uint32)[:, 0].take(rows)
        self._behind = altered
        self._channels[place] = frame.channels
        self._show(place)
        self._written = self._number

    def alter(self, rows: Rows, words: NDArray[np.uint32]) -> None:
        """Show the frame that is shown with other octets in these nodes, four as one number: (K,) each."""
        shown, place = self._place, 1 if self._place == 0 else 0
        if self._behind is None or self._number != self._written:
            self._nodes[place] = self._nodes[shown]
        else:
            self._words(place)[self._behind] = self._words(shown).take(self._behind)
        self._words(place)[rows] = words
        self._channels[place] = self._channels[shown]
        # Of one that was laid by, neither of the two places has anything.
        self._behind = rows if shown < PLACES else None
        self._show(place)
        self._written = self._number

    def _words(self, place: int) -> NDArray[np.uint32]:
        words: NDArray[np.uint32] = self._nodes[place].view(np.uint32)
        return words

    def lay_by(self, nodes: Bytes, channels: Bytes) -> list[Callable[[], None]]:
        """Return for each of these frames, (F, N, 4) and (F, C), what shows it, as `write` does.

        Those of an earlier call are of no use any more.
        """
        if len(nodes) > self._laid_by:
            return [partial(self.write, Frame(*each)) for each in zip(nodes, channels, strict=True)]
        first = PLACES if self._place >= PLACES + self._laid_by else PLACES + self._laid_by
        places = range(first, first + len(nodes))
        self._nodes[places.start : places.stop] = nodes.reshape(len(nodes), -1)
        self._channels[places.start : places.stop] = channels
        return [partial(self._show, place) for place in places]

    def _show(self, place: int) -> None:
        self._place = place
        self._number += 1
        self._shown[0] = self._number << PLACE_BITS | place

    def look(self) -> tuple[int, Frame]:
        """Return the newest frame, copied, and its number (0: none yet).

        LinkError when `LOOKS` of them, `PAUSE_S` apart, were not there or gone again at once.
        """
        for _ in range(LOOKS):
            shown = self._shown[0]
            frame = self._frame_at(shown & PLACE_MASK)
            if frame and shown == self._shown[0]:
                return shown >> PLACE_BITS, frame
            time.sleep(PAUSE_S)
        raise LinkError(
            f"{self.path}: the shared frame cannot be read; its writer is no engine of this kind."
        )

    def _frame_at(self, place: int) -> Frame | None:
        if place >= len(self._nodes):
            return None
        return Frame(self._nodes[place].reshape(-1, COMPONENTS).copy(), self._channels[place].copy())

    def remove(self) -> None:
        """Take the file away; readers that have it open keep the last frame."""
        self.path.unlink(missing_ok=True)


def _places(laid_by: int) -> int:
    """Return how many places a file has for frames."""
    return PLACES + HALVES * laid_by


def _is_frame(mapped: mmap.mmap) -> bool:
    """Say whether this is a header with exactly the octets that it announces."""
    if len(mapped) < HEADER.itemsize:
        return False
    header = np.frombuffer(mapped[: HEADER.itemsize], HEADER)[0]
    octets = int(header["nodes"]) * COMPONENTS + int(header["channels"])
    announced = HEADER.itemsize + _places(int(header["laid_by"])) * octets
    return bool(header["magic"] == MAGIC) and len(mapped) == announced
