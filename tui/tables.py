"""Lays out tables for any width: columns leave, the least important first, before anything is cut."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.cells import cell_len

from tui.plain import cut, shown

GAP = 1
LEAST_TEXT = 6


@dataclass(frozen=True, slots=True)
class Column:
    """One column."""

    head: str
    rank: int
    """0 always stays; of the others the highest leaves first."""
    cells: tuple[str, ...]
    """A text a row."""
    is_text: bool = False
    """Words: at the left, and cut with an ellipsis where they must be. Numbers are never cut."""
    text_cells: int = LEAST_TEXT
    """What a column of words keeps before another column leaves for it."""

    @property
    def width(self) -> int:
        """Cells that it takes whole."""
        return max(cell_len(each) for each in (self.head, *map(shown, self.cells)))

    @property
    def least(self) -> int:
        """Cells that it can do with."""
        return min(self.width, max(self.text_cells, cell_len(self.head))) if self.is_text else self.width


@dataclass(frozen=True, slots=True)
class Laid:
    """A table laid out: its heading, its rows, and the heads of the columns that found no room."""

    head: str
    rows: tuple[str, ...]
    left_out: tuple[str, ...]


def lay(columns: Iterable[Column], width: int) -> Laid:
    """Return the table in so many cells; a width too small for what always stays gets a wider one."""
    columns = tuple(columns)
    kept = list(columns)
    while _needs(kept) > width and any(each.rank for each in kept):
        kept.remove(max(kept, key=lambda each: each.rank))
    widths = {each.head: each.least for each in kept}
    spare = width - _needs(kept)
    for column in sorted(kept, key=lambda each: each.rank):
        more = max(0, min(spare, column.width - column.least))
        widths[column.head] += more
        spare -= more
    rows = tuple(
        (" " * GAP).join(_cell(column, column.cells[row], widths[column.head]) for column in kept)
        for row in range(len(columns[0].cells))
    )
    head = (" " * GAP).join(_cell(column, column.head, widths[column.head]) for column in kept)
    return Laid(head, rows, tuple(each.head for each in columns if each not in kept))


def _needs(columns: Sequence[Column]) -> int:
    return sum(each.least for each in columns) + GAP * (len(columns) - 1)


def _cell(column: Column, text: str, width: int) -> str:
    return cut(text, width) if column.is_text else f"{text:>{width}}"
