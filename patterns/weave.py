"""Weave: values without order on every node, some of which change in each frame: data at its busiest.

Each node keeps its value for a while, so that however fast the data changes, no light flashes.
"""

import numpy as np

from patterns.colours import FULL
from patterns.plain import COMPONENTS, Frame, Layout, Moment, Param, Params, Pattern

TURNS = 24
"""A node changes once in so many steps: at 44 steps a second at most twice in any second, and once more as
the pattern begins, which together is no more than may flash."""
ROUNDS = 64
STRIDE = 7
"""Between the turns of two nodes side by side. It has no divisor in common with them: all turns come."""
WHITE = 3
MIX_NODE, MIX_ROUND, MIX_COMPONENT = np.uint32(0x9E3779B1), np.uint32(0x85EBCA77), np.uint32(0xC2B2AE3D)
MIX_BITS = np.uint32(0x27D4EB2F)
"""Large odd numbers: a product with one of them scatters the bits of small counts."""


def _steps(_layout: Layout, _params: Params) -> int:
    return TURNS * ROUNDS


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    nodes = np.arange(len(layout.place), dtype=np.uint32)
    step = moment.step % (TURNS * ROUNDS)
    rounds = ((step + nodes * STRIDE % TURNS) // TURNS % ROUNDS).astype(np.uint32)
    components = np.arange(COMPONENTS, dtype=np.uint32)
    mixed = (nodes * MIX_NODE + rounds * MIX_ROUND)[:, None] + (components + 1) * MIX_COMPONENT
    mixed ^= mixed >> np.uint32(15)
    mixed *= MIX_BITS
    values = (mixed >> np.uint32(24)).astype(np.uint8)
    values = np.minimum(values, np.uint8(params["value"]))
    values[~layout.has_white, WHITE] = 0
    return layout.show(values)


def _describe(_layout: Layout, moment: Moment, _params: Params) -> str:
    return f"every node another value, one in {TURNS} new: {moment.step % (TURNS * ROUNDS) + 1}"


PATTERN = Pattern(
    name="weave",
    sentence="Values without order on all nodes, one node in 24 changing with every frame.",
    shows="A quiet shimmer of all colours, alike in every corner of the display. Nodes that flash, or a "
    "string that sparkles from one place on, tell of a data line that is marginal: look at its length, its "
    "ground, its first joint.",
    render=_render,
    steps=_steps,
    describe=_describe,
    pace=40.0,
    params=(Param("value", FULL, "The most that any light shows.", low=0, high=FULL, unit=f"of {FULL}"),),
)
