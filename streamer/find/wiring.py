"""How a string may be wired and set up: which slots of the canvas each of its lights takes its colours from.

Positions count from 0 in the order of the data, from the end that is fed.
"""

from dataclasses import dataclass

import numpy as np

from patterns.plain import COMPONENTS
from streamer.display.model import SLOTS_PER_UNIVERSE, Addressing, Controller, Port, Segment
from streamer.display.patch import COMPONENT_OF
from streamer.display.slots import Indices, slots_of_line
from streamer.find.canvas import Canvas


@dataclass(frozen=True, slots=True)
class Wiring:
    """What is not as planned, apart from the lights themselves."""

    order: str = ""
    """The colours in the order of the slots; empty as planned. Four letters are RGBW lights."""
    slot_by: int = 0
    universe_by: int = 0
    whole_controller: bool = False
    """The other strings of the controller are off by the same."""
    skip_by: int = 0
    """More (or fewer) nodes before the string than planned."""
    group: int = 1
    """So many lights act as one node."""
    feeder: str = ""
    """The port that the string hangs on; empty for its own."""
    other_addressing: bool = False
    """Packed instead of aligned, or the reverse."""
    turned: bool = False
    """Fed from the other end."""
    longer: bool = False
    """As many lights as can be are driven: the string's own count decides."""

    @property
    def faults(self) -> int:
        """How many things are not as planned."""
        return sum(getattr(self, name) != getattr(STRAIGHT, name) for name in _COUNTED)


_COUNTED = (
    "order",
    "slot_by",
    "universe_by",
    "skip_by",
    "group",
    "feeder",
    "other_addressing",
    "turned",
    "longer",
)
STRAIGHT = Wiring()


def slots_taken(
    canvas: Canvas, feeder: tuple[Controller, Port], port: Port, wiring: Wiring, lights: int
) -> Indices:
    """Return where on the canvas each of `lights` lights takes its red, green, blue and white: (4, lights).

    `feeder` is the port that the string `port` hangs on. Lights beyond those that it drives take nothing.
    """
    controller, fed_by = _set_up(feeder, wiring, lights)
    universes, slots = slots_of_line(controller, fed_by)
    line = canvas.indices(controller, universes, slots).reshape(-1)
    order = wiring.order or port.colour_order
    first = max(0, port.skip + wiring.skip_by)
    node = first + np.arange(lights) // wiring.group
    count = port.nodes if not wiring.longer else lights
    taken = np.full((COMPONENTS, lights), canvas.nowhere, np.intp)
    for octet, colour in enumerate(order):
        at = node * len(order) + octet
        # A node that does not get all of its octets shows nothing.
        there = (node + 1) * len(order) <= len(line)
        there &= np.arange(lights) < count
        taken[COMPONENT_OF[colour], there] = line[at[there]]
    return taken


def _set_up(feeder: tuple[Controller, Port], wiring: Wiring, lights: int) -> tuple[Controller, Port]:
    """Return the port as it is really set up."""
    controller, port = feeder
    addressing = controller.addressing
    if wiring.other_addressing:
        addressing = Addressing.PACKED if addressing is Addressing.ALIGNED else Addressing.ALIGNED
    universe, slot = port.universe + wiring.universe_by, port.slot + wiring.slot_by
    if addressing is Addressing.ALIGNED and slot > SLOTS_PER_UNIVERSE:
        universe, slot = universe + 1, 1
    changes: dict[str, object] = {"universe": universe, "slot": slot}
    if wiring.longer:
        changes["segments"] = (Segment(nodes=lights),)
    return controller.model_copy(update={"addressing": addressing}), port.model_copy(update=changes)
