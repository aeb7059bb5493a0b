"""Ramp: every value from 0 to 255 and back, on every node at once."""

from patterns.colours import FULL, WHITE, colour_param, dimmed, even, named
from patterns.plain import Layout, Lit, Moment, Params, Pattern, drawn

STEPS = 2 * FULL
"""Up and down again: falling at once from full light to dark would be a flash."""


def _steps(_layout: Layout, _params: Params) -> int:
    return STEPS


def _value(step: int) -> int:
    return FULL - abs(FULL - step % STEPS)


def _lit(_layout: Layout, moment: Moment, params: Params) -> Lit:
    return even(dimmed(named(params["colour"]), _value(moment.step)))


def _describe(_layout: Layout, moment: Moment, params: Params) -> str:
    way = "rising" if moment.step % STEPS < FULL else "falling"
    return f"{params['colour']} at {_value(moment.step)} of {FULL}, {way}"


PATTERN = Pattern(
    name="ramp",
    sentence="All nodes rise smoothly from dark to full and fall again.",
    shows="The light grows without a jump. A jump, a flat stretch or, in white, a tinge of colour is a value "
    "that does not arrive. Every value is sent only at a level of 100 %; below it, fewer.",
    render=drawn(_lit),
    lit=_lit,
    steps=_steps,
    describe=_describe,
    pace=20.0,
    # At 44 steps a second a round takes 11.6 seconds: one slow swell.
    params=(colour_param(WHITE, white_light=True),),
)
