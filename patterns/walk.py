"""Walk: one lit node goes down the strings. Where it stops arriving, the string is broken."""

import numpy as np
from numpy.typing import NDArray

from patterns.colours import GREEN, colour_param, named, rest_of, rest_param
from patterns.plain import Layout, Lit, Moment, Param, Params, Pattern, drawn


def _steps(layout: Layout, params: Params) -> int:
    return max(1, layout.longest if params["together"] else len(layout.place))


def _lit(layout: Layout, moment: Moment, params: Params) -> Lit:
    lit = _window(layout, moment.step % _steps(layout, params), params)
    return Lit(rest_of(params["rest"]), lit, named(params["colour"])[None])


def _window(layout: Layout, step: int, params: Params) -> NDArray[np.intp]:
    """Return the indices of the lit nodes: the one that the step has reached, and those just behind it."""
    reached = np.arange(max(0, step + 1 - int(params["window"])), step + 1)
    if params["together"]:
        index, lit = layout.string_starts[:, None] + reached, reached < layout.string_lengths[:, None]
    else:
        index = reached[reached < len(layout.place)]
        lit = layout.string_of_node[index] == layout.string_of_node[step : step + 1]
    return np.asarray(index[lit], np.intp)


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    if not len(layout.place):
        return "no nodes to walk along"
    step = moment.step % _steps(layout, params)
    if params["together"]:
        ended = int(np.count_nonzero(layout.string_lengths <= step))
        note = f"; strings already at their end: {ended}" if ended else ""
        return f"node {step + 1} of {layout.longest}{note}"
    string = int(layout.string_of_node[step])
    node = int(layout.place[step]) + 1
    return f"{layout.string_names[string]}: node {node} of {layout.string_lengths[string]}"


PATTERN = Pattern(
    name="walk",
    sentence="One lit node goes down every string at once.",
    shows="The lit node is on the same number on every string; a string that has ended waits until the "
    "longest has ended too. The last node that lights is the last before a break, a dead node or a lost "
    "supply.",
    render=drawn(_lit),
    lit=_lit,
    steps=_steps,
    describe=_describe,
    pace=5.0,
    # A node lights once a round. Rounds of under 15 nodes at the fastest pace are left to the engine's guard.
    params=(
        colour_param(GREEN),
        Param(
            "window",
            1,
            "How many nodes are lit, the last of them the one named.",
            low=1,
            high=100,
            unit="nodes",
        ),
        Param("together", True, "All strings at once; no: one string after the other."),
        rest_param(),
    ),
)
