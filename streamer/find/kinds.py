"""The kinds of faults, how often each is met, and what is to be checked, in order.

The shares are trade experience (common practice, no source): they only decide what is asked first, and a few
answers outweigh them.
"""

from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What may be the matter with a port and its string."""

    HEALTHY = "healthy"
    NOTHING = "nothing arrives"
    BREAK = "break"
    DEAD = "dead light"
    STUCK = "stuck light"
    COLOUR = "dead colour"
    ORDER = "colour order"
    WIDTH = "RGB or RGBW"
    SLOT = "start slot"
    UNIVERSE = "universe"
    BASE = "controller's base"
    ADDRESSING = "packed or aligned"
    SKIP = "skipped nodes"
    TURNED = "other end fed"
    FEWER = "fewer lights"
    MORE = "more lights"
    SWAPPED = "swapped"
    GROUPED = "grouped"
    FLICKER = "flicker"
    PAIR = "two faults"


@dataclass(frozen=True, slots=True)
class Trade:
    """What is known of a kind: its share among what is met, in percent, and what to check first."""

    percent: float
    checks: tuple[str, ...]


STILL = (
    "These pictures stood still. If it stutters or sparkles in motion, packets are lost or a data line is "
    "weak: put up weave, and ask the doctor."
)
TRADE = {
    Kind.HEALTHY: Trade(19.0, (STILL,)),
    Kind.NOTHING: Trade(
        9.0,
        (
            "Is the string's supply on, and its fuse whole?",
            "Is the string plugged into this port, the right way round?",
            "Does the controller get its network: its address, its light for the link?",
            "Is the universe right? One further off than one looks dark too.",
            "Try another port; then another string on this port.",
        ),
    ),
    Kind.BREAK: Trade(
        22.0,
        (
            "Press the connector together, look for water and bent pins.",
            "Measure the supply there: the data may be there and the power not.",
            "Bridge over the last lit node: its data output dies more often than the next one's input.",
            "Then replace the next node.",
        ),
    ),
    Kind.DEAD: Trade(6.0, ("Replace this one node: the data goes on past it.",)),
    Kind.STUCK: Trade(1.5, ("Switch the supply off and on again; if it stays, replace this one node.",)),
    Kind.COLOUR: Trade(4.0, ("Replace this one node: one of its colours is dead.",)),
    Kind.ORDER: Trade(
        7.0, ("Set this colour order at the controller, or in the display file if that is what hangs there.",)
    ),
    Kind.WIDTH: Trade(
        1.5, ("Three or four slots a node: set the controller's kind of node to what hangs there.",)
    ),
    Kind.SLOT: Trade(3.5, ("Set the start slot of this port at the controller.",)),
    Kind.UNIVERSE: Trade(
        5.0,
        ("Set the universe of this port at the controller.", "Makers count from 0 or from 1: check which."),
    ),
    Kind.BASE: Trade(
        2.0,
        ("Set the controller's first universe: makers count from 0 or from 1, so all ports are off by one.",),
    ),
    Kind.ADDRESSING: Trade(
        0.5,
        ("Set the controller to keep nodes whole at a universe's end, or to split them, as in the file.",),
    ),
    Kind.SKIP: Trade(1.5, ("Count the nodes between the controller and the string: set them as skipped.",)),
    Kind.TURNED: Trade(2.5, ("Turn the string round, or write `reversed` in the display file.",)),
    Kind.FEWER: Trade(
        2.5, ("Count the segments; then write the right number of nodes in the display file.",)
    ),
    Kind.MORE: Trade(2.0, ("Count the segments; then write the right number of nodes in the display file.",)),
    Kind.SWAPPED: Trade(5.0, ("Swap the two plugs, or their ports in the display file.",)),
    Kind.GROUPED: Trade(0.5, ("The controller groups lights: set it to one light a node.",)),
    Kind.FLICKER: Trade(
        3.0,
        (
            "Measure the supply at the first flickering node: feed power in there.",
            "Shorten the lead from the controller, or put a repeater for the data at its end.",
            "Replace the last steady node.",
        ),
    ),
    Kind.PAIR: Trade(2.0, ()),
}

SAFETY = (
    "Switch the supply off before you open a joint; mains is for a licensed person, a ladder for two. "
    "Local codes come first."
)

SETTINGS = frozenset({
    Kind.ORDER, Kind.WIDTH, Kind.SLOT, Kind.UNIVERSE, Kind.BASE, Kind.ADDRESSING, Kind.SKIP, Kind.GROUPED,
})  # fmt: skip
"""What is put right at the controller's settings or in the display file, with no hand on the wiring."""

JOINT_WEIGHT = 3.0
"""A break or a flicker begins at a joint between segments so many times as often as inside one."""
