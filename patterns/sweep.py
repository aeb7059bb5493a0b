"""Sweep: a lit plane crosses the display as it hangs, or goes from port to port, to check the map."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.colours import CYAN, DARK, FULL, colour_param, named, paint
from patterns.plain import Layout, Line, Lit, Moment, Param, Params, Pattern, drawn

AXES = ("x", "y", "z")
PORT = "port"
FEWEST_STEPS = 100
"""Even two ports are swept in so many steps, so that whole strings cannot flash."""
SLACK = 1e-3
"""Metres, or ports: so much further than they are lit nodes are looked at, whatever is lost by rounding."""
_PERCENT = 100


class _Near(NamedTuple):
    """The nodes within reach of the plane."""

    nodes: NDArray[np.intp]
    away: NDArray[np.float32]
    """How far each is from it."""


def _steps(layout: Layout, params: Params) -> int:
    ports = len(layout.string_names) if params["axis"] == PORT else 0
    return max(FEWEST_STEPS, ports)


def _line(layout: Layout, params: Params) -> Line:
    """Return the nodes in the order in which the plane meets them; from port to port they hang in it."""
    if params["axis"] == PORT:
        return Line(np.arange(len(layout.place)), layout.string_of_node.astype(np.float32))
    return layout.line(AXES.index(str(params["axis"])))


def _ends(layout: Layout, params: Params) -> tuple[float, float]:
    """Return the two ends between which the plane moves."""
    if params["axis"] == PORT:
        return -0.5, len(layout.string_names) - 0.5
    along = _line(layout, params).places
    return (float(along[0]), float(along[-1])) if len(along) else (0.0, 0.0)


def _near(layout: Layout, params: Params, plane: np.float32, reach: np.float32) -> _Near:
    nodes, along = _line(layout, params)
    first, last = along.searchsorted([plane - reach - SLACK, plane + reach + SLACK])
    away = np.abs(along[first:last] - plane)
    near = away <= reach
    return _Near(nodes[first:last][near], away[near])


def _plane(layout: Layout, moment: Moment, params: Params, low: float, high: float) -> float:
    steps = _steps(layout, params)
    return low + (high - low) * (moment.step % steps + 0.5) / steps


def _lit(layout: Layout, moment: Moment, params: Params) -> Lit:
    low, high = _ends(layout, params)
    reach = (high - low) * float(params["width"]) / _PERCENT / 2
    if params["axis"] == PORT:
        reach = max(reach, 0.5)
    plane = _plane(layout, moment, params, low, high)
    lit, away = _near(layout, params, np.float32(plane), np.float32(reach))
    colour = named(params["colour"])
    if params["edge"] == "hard" or not reach:
        return Lit(DARK, lit, colour[None])
    brightness = (FULL * (1 - away / np.float32(reach))).astype(np.uint8)
    shades = np.minimum(colour, np.arange(FULL + 1, dtype=np.uint8)[:, None])
    return Lit(DARK, lit, paint(shades, brightness))


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    if not len(layout.place):
        return "no nodes to sweep"
    axis = params["axis"]
    low, high = _ends(layout, params)
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
