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
        self._rows = rows
        self._still = [0] * len(rows)
        self._moving = [0] * len(rows)
        self._last: Bytes | None = None
        self.marks = [UNKNOWN] * len(rows)
        self.counts = [0] * len(rows)
        """How many nodes of each string differ."""

    def look(self, sent: "Bytes", arrived: "Bytes") -> list[int]:
        """Take in two (N, 4) pictures; returns the rows whose mark or count has changed."""
        before = list(zip(self.marks, self.counts, strict=True))
        for index, row in enumerate(self._rows):
            self._judge(index, row, sent, arrived)
        self._last = sent
        return [
            index
            for index, mark in enumerate(zip(self.marks, self.counts, strict=True))
            if mark != before[index]
        ]

    def _judge(self, index: int, row: StringRow, sent: "Bytes", arrived: "Bytes") -> None:
        part = slice(row.start, row.end)
        width = len(row.port.colour_order)
        is_still = self._last is not None and bool((self._last[part] == sent[part]).all())
        self._still[index] = self._still[index] + 1 if is_still else 0
        self._moving[index] += 1
        if self._still[index] >= STILL_LOOKS:
            unequal = (sent[part, :width] != arrived[part, :width]).any(axis=1)
            self.counts[index] = int(unequal.sum())
            self.marks[index] = DIFFERS if self.counts[index] else SAME
            self._moving[index] = 0
        elif self._moving[index] > MOVING_LOOKS:
            self.marks[index], self.counts[index] = MOVING, 0
