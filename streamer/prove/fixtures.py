"""The looks that prove a fixture: each of its light channels answers, alone, by what it does.

Strobe, pan, tilt and the like stay at zero: a walk is done with people and ladders near.
"""

from collections.abc import Iterator

import numpy as np

from patterns.fixtures import COLOUR_ROLES, DIMMER, LIGHT_ROLES
from patterns.plain import Layout
from streamer.logbook.records import Sort, Subject
from streamer.prove.checks import Check, Look, answers

DARK = "it is dark"
LIT = "it is lit"


def fixture_checks(layout: Layout, fixture: int) -> Iterator[Check]:
    """Yield the looks of one fixture, in the order of its channels; none if it has no light channel."""
    roles = layout.channel_roles
    tested = [channel for channel, role in enumerate(roles) if role in LIGHT_ROLES]
    own = np.flatnonzero(layout.fixture_of_channel == fixture).tolist()
    has_colours = bool(COLOUR_ROLES & {roles[channel] for channel in own})
    for channel in own:
        if roles[channel] in LIGHT_ROLES:
            look = Look("fixtures", {}, tested.index(channel), ())
            yield _check(
                layout, fixture, own.index(channel) + 1, roles[channel], look, has_colours=has_colours
            )


def _check(  # noqa: PLR0913  each says one thing about the channel
    layout: Layout, fixture: int, number: int, role: str, look: Look, *, has_colours: bool
) -> Check:
    name = layout.fixture_names[fixture]
    if role == DIMMER and has_colours:
        question = "Its dimmer alone is up, so it should stay dark. Is it dark?"
        told = answers("yes, dark", LIT)
    elif role == DIMMER:
        question, told = "Is it lit?", answers("yes", DARK)
    else:
        question = f"Is it lit in {role}, and in nothing else?"
        told = answers("yes", "in another colour", DARK, "another fixture is lit instead")
    return Check(
        Subject(Sort.FIXTURE, name),
        "",
        f"channel {number}, {role}",
        look,
        question,
        told,
    )
