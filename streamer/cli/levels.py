"""A universe's levels as rows of cells, and a slot's history as a plot, for a terminal of 80 columns."""

from collections.abc import Iterator

from streamer.display.numbering import universe_text
from streamer.hear.messages import Heard

CELLS = " ▁▂▃▄▅▆▇█"
"""From dark to full: eight steps, and a blank that is zero and nothing else."""
SLOTS_PER_ROW = 64
LEVEL_MAX = 255


def watched_lines(heard: Heard) -> Iterator[str]:
    """Yield what is watched: the strip of the universe, then the slot's plot."""
    watched = heard.watched
    if watched is None:
        return
    yield ""
    text = universe_text(watched.protocol, watched.universe)
    if not watched.levels:
        yield f"{text}: no levels."
        return
    yield f"{text}, {len(watched.levels)} slots:"
    yield from strip(watched.levels)
    if watched.slot is not None:
        level = watched.levels[watched.slot - 1] if watched.slot <= len(watched.levels) else None
        yield f"slot {watched.slot} is at {'no level' if level is None else level}:"
        yield plot([level for _, level in watched.history])


def strip(levels: tuple[int, ...]) -> Iterator[str]:
    """Yield rows of cells, each with the number of its first slot."""
    for first in range(0, len(levels), SLOTS_PER_ROW):
        row = levels[first : first + SLOTS_PER_ROW]
        yield f"{first + 1:5} |{''.join(map(cell, row))}|"


def plot(history: list[int]) -> str:
    """Return the newest levels as a row of cells, one a packet, the newest at the right."""
    return f"      |{''.join(map(cell, history[-SLOTS_PER_ROW:])):>{SLOTS_PER_ROW}}|"


def cell(level: int) -> str:
    """Return the cell of a level; every level but 0 can be seen."""
    return CELLS[-(-level * (len(CELLS) - 1) // LEVEL_MAX)]
