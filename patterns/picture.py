"""Picture: one still picture, node by node, each light on or off: exactly what was asked for and no more."""

import numpy as np

from patterns.colours import FULL
from patterns.plain import COMPONENTS, Frame, Layout, Moment, Param, Params, Pattern

LONGEST = 680_000
"""As many digits as a display may have nodes. Bounds memory."""
_DIGITS = "0123456789abcdef"
_LIGHTS = np.zeros((ord("f") + 1, COMPONENTS), np.uint8)
"""By the character's number: what its node shows."""
for _value, _digit in enumerate(_DIGITS):
    _LIGHTS[ord(_digit)] = [FULL * (_value >> light & 1) for light in range(COMPONENTS)]


def _render(layout: Layout, _moment: Moment, params: Params) -> Frame:
    digits = np.frombuffer(str(params["nodes"]).encode(), np.uint8)[: len(layout.place)]
    frame = layout.dark()
    frame.nodes[: len(digits)] = _LIGHTS[digits]
    return frame


def _describe(layout: Layout, _moment: Moment, params: Params) -> str:
    digits = str(params["nodes"])[: len(layout.place)]
    return f"{len(digits) - digits.count(_DIGITS[0])} of {len(layout.place)} nodes are sent light"


PATTERN = Pattern(
    name="picture",
    sentence="One still picture: which lights of which node are on.",
    shows="Exactly the lights that were written down, in the order in which the strings hang; every other "
    "node is dark. What else is lit, or is not, is a fault.",
    render=_render,
    steps=lambda _layout, _params: 1,
    describe=_describe,
    params=(
        Param(
            "nodes",
            "",
            "A digit for each node, 0 to f: 1 red, 2 green, 4 blue, 8 white light, added up.",
            form=f"[{_DIGITS}]{{0,{LONGEST}}}",
            unit="of the digits 0 to 9 and a to f",
        ),
    ),
)
