"""Fixtures: the channels of each DMX fixture, one at a time, by what they do. Strings stay dark."""

import numpy as np

from patterns.colours import FULL
from patterns.plain import Frame, Layout, Moment, Param, Params, Pattern

DIMMER, STROBE, UNUSED = "dimmer", "strobe", "unused"
COLOUR_ROLES = frozenset({"red", "green", "blue", "white", "amber", "uv"})
LIGHT_ROLES = COLOUR_ROLES | {DIMMER}


def _tested(layout: Layout, params: Params) -> list[int]:
    """Return the channels to raise, in order: the light ones, and the others where asked for."""
    return [
        channel
        for channel, role in enumerate(layout.channel_roles)
        if role in LIGHT_ROLES
        or (role == STROBE and params[STROBE])
        or (role not in {STROBE, UNUSED} and params["motion"])
    ]


def _steps(layout: Layout, params: Params) -> int:
    return max(1, len(_tested(layout, params)))


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    frame = layout.dark()
    tested = _tested(layout, params)
    if tested:
        raised = tested[moment.step % len(tested)]
        helpers = _helpers(layout.channel_roles[raised])
        fixture = layout.fixture_of_channel[raised]
        for channel in np.flatnonzero(layout.fixture_of_channel == fixture):
            if layout.channel_roles[channel] in helpers:
                frame.channels[channel] = FULL
        frame.channels[raised] = int(params["value"])
    return frame


def _helpers(role: str) -> frozenset[str]:
    """Return the roles that must be raised too, so that the effect of a role can be seen."""
    if role == DIMMER:
        return frozenset()
    return frozenset({DIMMER}) if role in COLOUR_ROLES else LIGHT_ROLES


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    tested = _tested(layout, params)
    if not tested:
        return "no fixture channels to test"
    raised = tested[moment.step % len(tested)]
    fixture = int(layout.fixture_of_channel[raised])
    of_fixture = np.flatnonzero(layout.fixture_of_channel == fixture)
    roles = {layout.channel_roles[channel] for channel in of_fixture}
    role = layout.channel_roles[raised]
    number = f"channel {raised - int(of_fixture[0]) + 1} of {len(of_fixture)}"
    return f"{layout.fixture_names[fixture]}, {number}: {role}{_note(role, roles)}"


def _note(role: str, roles: set[str]) -> str:
    if role == DIMMER:
        return " alone, so it stays dark" if roles & COLOUR_ROLES else ""
    if role in COLOUR_ROLES:
        return ", with the dimmer" if DIMMER in roles else ""
    return ", with its light on. It may flash fast or move: keep clear, look away"


PATTERN = Pattern(
    name="fixtures",
    sentence="Each DMX fixture's channels, one at a time, by what they do.",
    shows="Red lights red, and so on; a dimmer alone stays dark where there are colours. Another colour, or "
    "light where none is due, means a wrong start slot or another mode of the fixture. Strobe, pan, "
    "tilt and the like stay at zero unless asked for: a strobing light can harm people who are "
    "sensitive to flashes, a moving head can hit.",
    render=_render,
    steps=_steps,
    describe=_describe,
    pace=0.5,
    # A dimmer and the light in it may go on and off with each step.
    pace_limit=3.0,
    params=(
        Param("value", FULL, "How far the channel is raised.", low=0, high=FULL, unit=f"of {FULL}"),
        Param(
            "motion",
            False,
            "Also pan, tilt and other channels. Caution: it moves; keep people and ladders clear.",
        ),
        Param(
            STROBE, False, "Also strobe channels. Caution: it may flash faster than is safe for some people."
        ),
    ),
)
