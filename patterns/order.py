"""Order: red, green, blue (and white) in blocks told by counting, from which the colour order follows."""

import numpy as np

from patterns.colours import BLUE, DARK, GREEN, RED, WHITE_LIGHT, even, paint
from patterns.plain import Bytes, Frame, Layout, Moment, Params, Pattern

PRIMARIES = (RED, GREEN, BLUE, WHITE_LIGHT)
"""The first is shown in blocks of one node, the second of two, the third of three, the fourth of four."""
RGB, RGBW = 3, 4
BLOCK_GAP = 2
"""Dark nodes after each block. With a start slot off by one, some blocks move by a node: the gaps differ."""
ROUND_GAP = 6
"""Dark nodes more after the last block, before the blocks begin again."""

_PALETTE = np.stack([DARK, *(colour.value for colour in PRIMARIES)])
_NAMES = tuple(colour.name.replace("-", " ") for colour in PRIMARIES)
_COUNTS = ("one", "two", "three", "four")


def _primaries(layout: Layout) -> int:
    return RGBW if layout.has_white.any() else RGB


def _steps(layout: Layout, _params: Params) -> int:
    return 1 + _primaries(layout)


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    step = moment.step % _steps(layout, params)
    if step:
        return layout.draw(even(PRIMARIES[step - 1].value))
    choice = _blocks(RGB, layout.longest)[layout.place]
    if layout.has_white.any():
        choice = np.where(layout.has_white, _blocks(RGBW, layout.longest)[layout.place], choice)
    return layout.show(paint(_PALETTE, choice))


def _blocks(primaries: int, nodes: int) -> Bytes:
    """Return the palette row of each node of a string: 1 0 0 2 2 0 0 3 3 3 0 0 ..., over and over."""
    blocks = [np.repeat([number, 0], [number, BLOCK_GAP]) for number in range(1, primaries + 1)]
    return np.resize(np.concatenate([*blocks, np.zeros(ROUND_GAP)]).astype(np.uint8), nodes)


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    step = moment.step % _steps(layout, params)
    if step:
        only = ", RGBW nodes only" if step == RGBW else ""
        return (
            f"every node {_NAMES[step - 1]}{only}. Another colour is what stands in that place of the order"
        )
    shown = ", ".join(f"{_COUNTS[i]} {_NAMES[i]}" for i in range(_primaries(layout)))
    return f"blocks: {shown}. In the planned order, write for each letter the colour that you see for it"


PATTERN = Pattern(
    name="order",
    sentence="Blocks of one red, two green and three blue nodes; then each colour alone.",
    shows="Planned as RGB, and seen as one green, two red, three blue: the order is GRB. If the dark gaps "
    "between the blocks differ, the start slot is off by one or two, not the order. Colours that repeat "
    "every three or four nodes in a solid step mean RGB data on RGBW nodes, or the reverse.",
    render=_render,
    steps=_steps,
    describe=_describe,
    # The solid steps change whole strings, red among them.
    pace_limit=3.0,
)
