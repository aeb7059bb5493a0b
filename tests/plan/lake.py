"""Displays by the lake, small enough to be worked out by hand."""

from typing import Any

from streamer.display.model import (
    MULTICAST,
    Addressing,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
    Role,
    Segment,
)

FULL_SLOTS = 512


def port(number: int, universe: int, slot: int = 1, nodes: int = 100, **more: Any) -> Port:
    """Return a port of the controller "jetty" with a plain string."""
    return Port(
        name=f"jetty/{number}",
        number=number,
        universe=universe,
        slot=slot,
        segments=(Segment(nodes=nodes),),
        **more,
    )


def controller(*ports: Port, name: str = "jetty", **more: Any) -> Controller:
    """Return a controller, E1.31 by multicast unless said otherwise."""
    settings: dict[str, Any] = {
        "protocol": Protocol.E131,
        "address": MULTICAST,
        "addressing": Addressing.ALIGNED,
    }
    return Controller(name=name, ports=ports, **(settings | more))


def display(*controllers: Controller) -> Display:
    """Return a display."""
    return Display(name="lake", controllers=controllers)


def flood(universe: int, slot: int = 1) -> Fixture:
    """Return a fixture of four channels."""
    channels = (Role.DIMMER, Role.RED, Role.GREEN, Role.BLUE)
    return Fixture(name="Flood, reeds", universe=universe, slot=slot, channels=channels)


def many(universes: int, **more: Any) -> Display:
    """Return a display with a string in each of so many universes."""
    return display(
        controller(*(port(number, number, nodes=170) for number in range(1, universes + 1)), **more)
    )
