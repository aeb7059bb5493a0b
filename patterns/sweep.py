"""Sweep: a lit plane crosses the display as it hangs, or goes from port to port, to check the map."""

import numpy as np
from numpy.typing import NDArray

from patterns.colours import CYAN, DARK, FULL, colour_param, named, paint
from patterns.plain import Layout, Lit, Moment, Param, Params, Pattern, drawn

AXES = ("x", "y", "z")
PORT = "port"
FEWEST_STEPS = 100
"""Even two ports are swept in so many steps, so that whole strings cannot flash."""
_PERCENT = 100


def _steps(layout: Layout, params: Params) -> int:
    ports = len(layout.string_names) if params["axis"] == PORT else 0
    return max(FEWEST_STEPS, ports)


def _line(layout: Layout, params: Params) -> tuple[NDArray[np.float32], float, float]:
    """Return where each node is along the axis, (N,), and the two ends between which the plane moves."""
    if params["axis"] == PORT:
        return layout.string_of_node.astype(np.float32), -0.5, len(layout.string_names) - 0.5
    along = np.ascontiguousarray(layout.positions[:, AXES.index(str(params["axis"]))])
    return along, float(along.min(initial=np.inf)), float(along.max(initial=-np.inf))


def _plane(layout: Layout, moment: Moment, params: Params, low: float, high: float) -> float:
    steps = _steps(layout, params)
    return low + (high - low) * (moment.step % steps + 0.5) / steps


def _lit(layout: Layout, moment: Moment, params: Params) -> Lit:
    along, low, high = _line(layout, params)
    reach = (high - low) * float(params["width"]) / _PERCENT / 2
    if params["axis"] == PORT:
        reach = max(reach, 0.5)
    away = along - np.float32(_plane(layout, moment, params, low, high))
    np.abs(away, out=away)
    lit = np.flatnonzero(away <= np.float32(reach))
    brightness = np.full(len(lit), FULL, np.uint8)
    if params["edge"] != "hard" and reach:
        brightness = (FULL * (1 - away[lit] / np.float32(reach))).astype(np.uint8)
    shades = np.minimum(named(params["colour"]), np.arange(FULL + 1, dtype=np.uint8)[:, None])
    return Lit(DARK, lit, paint(shades, brightness))


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    if not len(layout.place):
        return "no nodes to sweep"
    axis = params["axis"]
    _, low, high = _line(layout, params)
    plane = _plane(layout, moment, params, low, high)
    if axis == PORT:
        string = round(plane)
        return f"string {string + 1} of {len(layout.string_names)}, {layout.string_names[string]}"
    if low == high:
        return f"every node has the same {axis}, {low:.2f} m: nothing moves"
    return f"{axis} {plane:.2f} m, of {low:.2f} to {high:.2f} m"


PATTERN = Pattern(
    name="sweep",
    sentence="A lit plane crosses the display along x, y or z, or goes from port to port.",
    shows="The light moves smoothly across the house: to the right along x, up along y, towards you along z. "
    "A piece that lights out of turn hangs elsewhere than planned, or is fed from its other end.",
    render=drawn(_lit),
    lit=_lit,
    steps=_steps,
    describe=_describe,
    pace=20.0,
    # A round takes at least 100 steps, so no node lights more than once in two seconds.
    params=(
        Param("axis", "x", "The way that the plane moves.", choices=(*AXES, PORT)),
        Param("width", 10.0, "How much of the display is lit at once.", low=2.0, high=100.0, unit="%"),
        Param("edge", "soft", "Soft fades in and out; hard is full light or none.", choices=("soft", "hard")),
        colour_param(CYAN),
    ),
)
