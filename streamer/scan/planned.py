"""What a display file plans of each device, as a device answers: outputs in their order."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from streamer.display.model import Controller, Display, Protocol
from streamer.display.places import plain
from streamer.display.slots import slots_of_line


@dataclass(frozen=True, slots=True)
class Gate:
    """One universe that a device should listen to."""

    what: str
    """What the display has there: "port 3", "fixture 'Flood'"."""
    universe: int
    """Or Port-Address."""
    output: int
    """Which of the device's outputs it would be, counted from 1."""


@dataclass(frozen=True, slots=True)
class Planned:
    """All that one address is to get by one protocol."""

    names: tuple[str, ...]
    """Of the controllers in the display file."""
    protocol: Protocol
    address: str
    gates: tuple[Gate, ...]
    """In the order of the file's controllers and their ports' numbers; each universe once."""

    @property
    def name(self) -> str:
        """Return the names of the controllers."""
        return ", ".join(map(plain, self.names))


def planned_of(display: Display) -> list[Planned]:
    """Return what each address is to get, in the order of the file."""
    at: dict[tuple[Protocol, str], list[Controller]] = {}
    for controller in display.controllers:
        at.setdefault((controller.protocol, controller.address), []).append(controller)
    return [
        Planned(tuple(each.name for each in controllers), protocol, address, _gates(controllers))
        for (protocol, address), controllers in at.items()
    ]


def _gates(controllers: Sequence[Controller]) -> tuple[Gate, ...]:
    """Give outputs the numbers of the ports where each has one universe of its own; else count them."""
    found: dict[int, tuple[str, int]] = {}
    for controller in controllers:
        for what, number, universe in _universes(controller, with_name=len(controllers) > 1):
            found.setdefault(universe, (what, number))
    numbers = [number for _, number in found.values()]
    ports = sum(len(controller.ports) for controller in controllers)
    by_number = len(controllers) == 1 and len(set(numbers)) == len(numbers) == ports and 0 not in numbers
    return tuple(
        Gate(what, universe, number if by_number else place)
        for place, (universe, (what, number)) in enumerate(found.items(), start=1)
    )


def _universes(controller: Controller, *, with_name: bool) -> Iterator[tuple[str, int, int]]:
    """Yield what, port number (0 for a fixture) and universe."""
    of = f"{plain(controller.name)}: " if with_name else ""
    for port in sorted(controller.ports, key=lambda each: each.number):
        for universe in np.unique(slots_of_line(controller, port)[0]).tolist():
            yield f"{of}port {port.number}", port.number, universe
    for fixture in controller.fixtures:
        yield f"{of}fixture '{plain(fixture.name)}'", 0, fixture.universe
