"""Adds the universes next to the planned ones, so that lights patched one off show themselves."""

from collections.abc import Iterator

from streamer.display.model import NODES_LIMIT, Controller, Display, Port, Protocol, Segment
from streamer.display.numbering import UNIVERSE_RANGE
from streamer.display.patch import StreamKey
from streamer.display.slots import slots_of_line
from streamer.errors import PlanError, Problem

NODES_PER_NEIGHBOUR = 170
NEIGHBOUR_ORDER = "RGB"
SHORT = {Protocol.E131: "u", Protocol.ARTNET: "pa"}


def neighbours(display: Display) -> Display:
    """Return the display with a port for each universe next to a planned one and not itself planned.

    The ports are called "jetty/u4" ("jetty/pa19" for Art-Net), have `neighbour` set and as many of 170 RGB
    nodes as the controller's packets hold. Raises `PlanError` when that makes too many nodes.
    """
    taken = {key for controller in display.controllers for key in _keys(controller)}
    controllers = []
    for controller in display.controllers:
        ports = tuple(_ports(controller, taken))
        controllers.append(controller.model_copy(update={"ports": controller.ports + ports}))
    wider = display.model_copy(update={"controllers": tuple(controllers)})
    nodes = sum(port.nodes for port in wider.ports)
    if nodes > NODES_LIMIT:
        what = f"with the universes next to the planned ones there are {nodes} nodes, more than {NODES_LIMIT}"
        raise PlanError([Problem(display.name, what, "Probe fewer controllers or universes at a time")])
    return wider


def _keys(controller: Controller) -> set[StreamKey]:
    universes = {fixture.universe for fixture in controller.fixtures}
    for port in controller.ports:
        universes.update(slots_of_line(controller, port)[0].reshape(-1).tolist())
    return {StreamKey(controller.protocol, controller.address, universe) for universe in universes}


def _ports(controller: Controller, taken: set[StreamKey]) -> Iterator[Port]:
    """Yield the missing neighbours of one controller, and take them."""
    first, last = UNIVERSE_RANGE[controller.protocol]
    nodes = min(NODES_PER_NEIGHBOUR, controller.slots // len(NEIGHBOUR_ORDER))
    beside = {key.universe + step for key in _keys(controller) for step in (-1, 1)} if nodes else set()
    number = max((port.number for port in controller.ports), default=0)
    for universe in sorted(beside):
        key = StreamKey(controller.protocol, controller.address, universe)
        if first <= universe <= last and key not in taken:
            taken.add(key)
            number += 1
            yield Port(
                name=f"{controller.name}/{SHORT[controller.protocol]}{universe}",
                number=number,
                universe=universe,
                colour_order=NEIGHBOUR_ORDER,
                segments=(Segment(nodes=nodes),),
                neighbour=True,
            )
