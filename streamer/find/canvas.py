"""Every slot that a search may light, laid out flat; and the same as a display that the engine can play.

Each universe of it is a port of nodes of four slots (or three at its end): a picture can set any slot.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from patterns.plain import Bytes
from streamer.display.model import SLOTS_PER_UNIVERSE, Controller, Display, Port, Segment
from streamer.display.numbering import UNIVERSE_RANGE
from streamer.display.patch import StreamKey
from streamer.display.slots import Indices, slots_of_line
from streamer.errors import PlanError, Problem

WIDE, NARROW = 4, 3
"""Slots of the canvas's nodes: as many wide ones as leave a multiple of three."""
TOLD_MOST = 12
"""More names than this are no help in a message."""
DIGITS = np.frombuffer(b"0123456789abcdef", np.uint8)


@dataclass(frozen=True, slots=True)
class Universe:
    """One row of the canvas."""

    controller: Controller
    number: int

    @property
    def key(self) -> StreamKey:
        """What makes it a stream of its own."""
        return StreamKey(self.controller.protocol, self.controller.address, self.number)


class Canvas:
    """The universes that can be lit, `own` first. A flat array of them has one octet more: always dark."""

    def __init__(self, display: Display, own: Controller, universes: Iterable[int]) -> None:
        self.rows: dict[StreamKey, int] = {}
        self._universes: list[Universe] = []
        first, last = UNIVERSE_RANGE[own.protocol]
        for number in universes:
            if first <= number <= last:
                self._add(Universe(own, number))
        others = [each for each in display.controllers if each.name != own.name]
        for controller in (own, *others):
            for number in sorted(_planned(controller)):
                self._add(Universe(controller, number))
        self.size = len(self._universes) * SLOTS_PER_UNIVERSE
        self.display = self._as_display(display)

    def _add(self, universe: Universe) -> None:
        if universe.key not in self.rows:
            self.rows[universe.key] = len(self._universes)
            self._universes.append(universe)

    @property
    def nowhere(self) -> int:
        """The index that stands for a slot that nobody can light."""
        return self.size

    def indices(self, controller: Controller, universes: Indices, slots: Indices) -> Indices:
        """Return the flat index of slots, from 0; `nowhere` for what is outside the canvas."""
        known, where = np.unique(universes, return_inverse=True)
        rows = np.array(
            [
                self.rows.get(StreamKey(controller.protocol, controller.address, int(number)), -1)
                for number in known
            ],
            np.intp,
        )[where.reshape(universes.shape)]
        inside = (rows >= 0) & (slots >= 0) & (slots < controller.slots)
        return np.where(inside, rows * SLOTS_PER_UNIVERSE + slots, self.nowhere)

    def told(self, slots: Bytes) -> str:
        """Return a picture of slots, (size + 1,) of 0 or 1, as the digits that `picture` takes."""
        pieces = []
        for row, universe in enumerate(self._universes):
            wide, narrow = _nodes(universe.controller.slots)
            start = row * SLOTS_PER_UNIVERSE
            middle = start + wide * WIDE
            pieces += [
                _values(slots[start:middle], WIDE),
                _values(slots[middle : middle + narrow * NARROW], NARROW),
            ]
        digits = DIGITS[np.concatenate(pieces)] if pieces else DIGITS[:0]
        return digits.tobytes().decode().rstrip("0")

    def _as_display(self, display: Display) -> Display:
        controllers = []
        for controller in dict.fromkeys(universe.controller.name for universe in self._universes):
            mine = [each for each in self._universes if each.controller.name == controller]
            ports = tuple(_ports(mine, len(mine)))
            controllers.append(mine[0].controller.model_copy(update={"ports": ports, "fixtures": ()}))
        return Display(name=display.name, controllers=tuple(controllers), flashes_per_s=display.flashes_per_s)


def _planned(controller: Controller) -> set[int]:
    universes = {fixture.universe for fixture in controller.fixtures}
    for port in controller.ports:
        universes.update(slots_of_line(controller, port)[0].reshape(-1).tolist())
    return universes


def _nodes(slots: int) -> tuple[int, int]:
    """Return how many wide and how many narrow nodes make up so many slots, but for two at most."""
    narrow = -slots % WIDE
    if narrow * NARROW > slots:
        return 0, slots // NARROW
    return (slots - narrow * NARROW) // WIDE, narrow


def _values(slots: Bytes, width: int) -> Bytes:
    bits = slots.reshape(-1, width) << np.arange(width, dtype=np.uint8)
    return np.asarray(bits.sum(axis=1, dtype=np.uint8))


def _ports(universes: list[Universe], count: int) -> Iterator[Port]:
    for number, universe in enumerate(universes, 1):
        wide, narrow = _nodes(universe.controller.slots)
        name = f"{universe.controller.name}/{universe.number}"
        if wide:
            yield Port(
                name=name,
                number=number,
                universe=universe.number,
                colour_order="RGBW",
                segments=(Segment(nodes=wide),),
            )
        if narrow:
            yield Port(
                name=f"{name}+",
                number=count + number,
                universe=universe.number,
                slot=wide * WIDE + 1,
                segments=(Segment(nodes=narrow),),
            )


def controller_of(display: Display, name: str) -> tuple[Controller, Port]:
    """Return a port by its name, with its controller. Raises PlanError where there is none."""
    for controller in display.controllers:
        for port in controller.ports:
            if port.name == name:
                return controller, port
    names = [port.name for port in display.ports]
    told = ", ".join(names[:TOLD_MOST]) + (", ..." if len(names) > TOLD_MOST else "")
    raise PlanError([Problem("--port", f"there is no port {name!r}", f"Choose one of {told}")])
