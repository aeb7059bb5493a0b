"""A universe's levels as rows of cells, and a slot's history as a plot, as wide as the terminal."""

from collections.abc import Iterator

from streamer.display.numbering import universe_text
from streamer.hear.messages import Heard

CELLS = " ▁▂▃▄▅▆▇█"
"""From dark to full: eight steps, and a blank that is zero and nothing else."""
ROWS_OF = (128, 64, 32, 16)
"""Slots a row: the most that fit."""
EDGE_CELLS = 8
"""The number of the first slot, and a stroke at each end."""
LEVEL_MAX = 255


def watched_lines(heard: Heard, columns: int = 80) -> Iterator[str]:
    """Yield what is watched: the strip of the universe, then the slot's plot."""
    per_row = next((each for each in ROWS_OF if each + EDGE_CELLS <= columns), ROWS_OF[-1])
    watched = heard.watched
    if watched is None:
        return
    yield ""
    text = universe_text(watched.protocol, watched.universe)
    if not watched.levels:
        yield f"{text}: no levels."
        return
    yield f"{text}, {len(watched.levels)} slots:"
    yield from strip(watched.levels, per_row)
    if watched.slot is not None:
        level = watched.levels[watched.slot - 1] if watched.slot <= len(watched.levels) else None
        yield f"slot {watched.slot} is at {'no level' if level is None else level}:"
        yield plot([level for _, level in watched.history], per_row)


def strip(levels: tuple[int, ...], per_row: int) -> Iterator[str]:
    """Yield rows of cells, each with the number of its first slot."""
    for first in range(0, len(levels), per_row):
        row = levels[first : first + per_row]
        yield f"{first + 1:5} |{''.join(map(cell, row))}|"


def plot(history: list[int], cells: int) -> str:
    """Return the newest levels as a row of cells, one a packet, the newest at the right."""
    return f"      |{''.join(map(cell, history[-cells:])):>{cells}}|"


def cell(level: int) -> str:
    """Return the cell of a level; every level but 0 can be seen."""
    return CELLS[-(-level * (len(CELLS) - 1) // LEVEL_MAX)]
