"""Says of each string whether what arrives is what is sent, as far as looking now and then can tell.

Two looks at moving light are never of the same moment, so a string is only judged while it stands still.
"""

from typing import TYPE_CHECKING

from tui.rows import StringRow

if TYPE_CHECKING:
    from patterns.plain import Bytes

SAME, DIFFERS, MOVING, UNKNOWN = "=", "≠", "~", " "
STILL_LOOKS = 3
"""A string that was the same in so many looks has had the time to arrive."""
MOVING_LOOKS = 30
"""One that was never still in so many is too fast to be judged."""


class Comparison:
    """The marks of the strings, kept up to date look by look."""

    def __init__(self, rows: tuple[StringRow, ...]) -> None:
        self._starts = [row.start for row in rows]
        self._widths = [(row.start, row.end, len(row.port.colour_order)) for row in rows]
        self._still = [0] * len(rows)
        self._moving = [0] * len(rows)
        self._last: Bytes | None = None
        self.marks = [UNKNOWN] * len(rows)
        self.counts = [0] * len(rows)
        """How many nodes of each string differ."""

    def look(self, sent: "Bytes", arrived: "Bytes") -> list[int]:
        """Take in two (N, 4) pictures; returns the strings whose mark or count has changed."""
        import numpy as np

        if not self._starts:
            return []
        unequal = sent != arrived
        for start, end, width in self._widths:
            unequal[start:end, width:] = False
        counts = np.add.reduceat(unequal.any(axis=1), self._starts, dtype=np.int64).tolist()
        moved = [True] * len(counts)
        if self._last is not None:
            moved = np.logical_or.reduceat((self._last != sent).any(axis=1), self._starts).tolist()
        self._last = sent
        return [at for at in range(len(counts)) if self._judge(at, counts[at], has_moved=moved[at])]

    def _judge(self, at: int, count: int, *, has_moved: bool) -> bool:
        before = self.marks[at], self.counts[at]
        self._still[at] = 0 if has_moved else self._still[at] + 1
        self._moving[at] += 1
        if self._still[at] >= STILL_LOOKS:
            self.marks[at], self.counts[at] = DIFFERS if count else SAME, count
            self._moving[at] = 0
        elif self._moving[at] > MOVING_LOOKS:
            self.marks[at], self.counts[at] = MOVING, 0
        return before != (self.marks[at], self.counts[at])
