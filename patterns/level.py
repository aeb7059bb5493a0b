"""Level: one steady colour on all nodes, or on every n-th."""

import numpy as np

from patterns.colours import DARK, FULL, WHITE, colour_param, dimmed, named, paint
from patterns.plain import Frame, Layout, Moment, Param, Params, Pattern


def _steps(_layout: Layout, _params: Params) -> int:
    return 1


def _render(layout: Layout, _moment: Moment, params: Params) -> Frame:
    every = int(params["every"])
    row = np.zeros(layout.longest, np.uint8)
    row[every - 1 :: every] = 1
    colour = dimmed(named(params["colour"]), int(params["value"]))
    return layout.show(paint(np.stack([DARK, colour]), row[layout.place]))


def _describe(_layout: Layout, _moment: Moment, params: Params) -> str:
    every = params["every"]
    which = "every node" if every == 1 else f"one node in {every}"
    return f"{which} {params['colour']}, {params['value']} of {FULL}"


PATTERN = Pattern(
    name="level",
    sentence="One steady colour, on all nodes or on one in so many.",
    shows="Dead nodes and dead colours; nodes that fade or turn red towards the end of a string want more "
    "supply. All nodes in white draw the most current there is: raise the level slowly, and stop if a "
    "lead or a supply grows hot.",
    render=_render,
    steps=_steps,
    describe=_describe,
    params=(
        colour_param(WHITE, white_light=True),
        Param("value", FULL, "How bright, before the level is applied.", low=0, high=FULL, unit=f"of {FULL}"),
        Param("every", 1, "Light one node in so many.", low=1, high=1000, unit="nodes"),
    ),
)
