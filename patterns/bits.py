"""Bits: the eight values that have a single bit set, one at a time, on every node at once."""

from patterns.colours import WHITE, colour_param, dimmed, even, named
from patterns.plain import Layout, Lit, Moment, Params, Pattern, drawn

BITS = 8
"""A slot is one octet (ANSI E1.11)."""


def _steps(_layout: Layout, _params: Params) -> int:
    return BITS


def _lit(_layout: Layout, moment: Moment, params: Params) -> Lit:
    return even(dimmed(named(params["colour"]), 1 << moment.step % BITS))


def _describe(_layout: Layout, moment: Moment, params: Params) -> str:
    bit = moment.step % BITS
    return f"{params['colour']} at {1 << bit}: bit {bit} alone, at a level of 100 % only"


PATTERN = Pattern(
    name="bits",
    sentence="All nodes show 1, 2, 4 and so on to 128: one bit of the value at a time.",
    shows="Each step is brighter than the last. A dark step is a dead bit; two steps alike, or never dim, is "
    "a stuck one. A level below 100 % mixes the bits: raise it, with one string at a time.",
    render=drawn(_lit),
    lit=_lit,
    steps=_steps,
    describe=_describe,
    pace=1.0,
    # Whole strings change with each step, and fall from 128 to 1 once a round.
    pace_limit=3.0,
    params=(colour_param(WHITE, white_light=True),),
)
