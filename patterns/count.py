"""Count: marks at every tenth, fiftieth and hundredth node, to count by eye; then the last node alone."""

import numpy as np

from patterns.colours import DARK, DIM, MAGENTA, WHITE, YELLOW, paint
from patterns.plain import Bytes, Frame, Layout, Moment, Params, Pattern

TEN, FIFTY, HUNDRED = 10, 50, 100
MARKS = ((TEN, 1, WHITE), (FIFTY, 2, YELLOW), (HUNDRED, 3, MAGENTA))
"""(every so many nodes, lit nodes, colour): the last lit node of a mark is the one counted."""

_PALETTE = np.stack([DARK, DIM, *(colour.value for _, _, colour in MARKS)])
_DARK, _DIM, _FIRST_MARK = 0, 1, 2
_LAST_ALONE = 1
_STEPS = 2


def _steps(_layout: Layout, _params: Params) -> int:
    return _STEPS


def _render(layout: Layout, moment: Moment, _params: Params) -> Frame:
    if moment.step % _STEPS == _LAST_ALONE:
        choice = np.full(len(layout.place), _DARK, np.uint8)
        ends = layout.string_starts + layout.string_lengths - 1
        choice[ends[layout.string_lengths > 0]] = _FIRST_MARK
    else:
        choice = _marked(layout.longest)[layout.place]
    return layout.show(paint(_PALETTE, choice))


def _marked(nodes: int) -> Bytes:
    """Return the palette row of each node of a string of so many nodes."""
    row = np.full(nodes, _DIM, np.uint8)
    for mark, (every, lit, _) in enumerate(MARKS, start=_FIRST_MARK):
        for behind in range(lit):
            row[every - 1 - behind :: every] = mark
    return row


def _describe(layout: Layout, moment: Moment, _params: Params) -> str:
    if not len(layout.place):
        return "no nodes to count"
    if moment.step % _STEPS == _LAST_ALONE:
        shortest = int(layout.string_lengths.min())
        range_ = f"{layout.longest}" if shortest == layout.longest else f"{shortest} to {layout.longest}"
        return f"only the last planned node of each string: node {range_}"
    marks = ", ".join(f"{every}th {lit} lit {colour.name}" for every, lit, colour in MARKS)
    return f"every {marks}; dim to the last planned node, {layout.longest} on the longest string"


PATTERN = Pattern(
    name="count",
    sentence="Marks every tenth, fiftieth and hundredth node; step once more for the last node alone.",
    shows="One lit node ends a ten, two end a fifty, three a hundred, on dim nodes. Nodes beyond the plan "
    "stay dark. In the second step a string shorter than planned stays dark, and a longer one goes on "
    "beyond its lit node.",
    render=_render,
    steps=_steps,
    describe=_describe,
    # Each step changes whole strings: three a second is a flash and a half.
    pace_limit=3.0,
)
