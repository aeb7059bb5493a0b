"""The wirings that are thought of for one port, each with its share among what is met, in percent."""

from collections.abc import Iterator
from dataclasses import fields
from itertools import permutations, product
from typing import NamedTuple

from streamer.display.model import Controller, Display, Port
from streamer.find.kinds import TRADE, Kind
from streamer.find.wiring import STRAIGHT, Wiring

SLOTS_OFF = 6
PAIRED_SLOTS_OFF = 3
NODES_SKIPPED = 3
GROUPS = (2, 3, 4, 5)
FEEDERS_MAX = 48
"""Other ports that a string is thought to hang on, the nearest first. Bounds memory."""
PAIRED_FEEDERS = 8
PAIRED_ORDERS = 5
COLOURS, WHITE = "RGB", "W"


class Thought(NamedTuple):
    """A wiring, what kind of fault it is, and its share."""

    kind: Kind
    wiring: Wiring
    percent: float


def single_wirings(display: Display, controller: Controller, port: Port) -> list[Thought]:
    """Return the wirings with one thing not as planned."""
    skips = [by for by in range(-min(port.skip, NODES_SKIPPED), NODES_SKIPPED + 1) if by]
    slots = [by for by in range(-SLOTS_OFF, SLOTS_OFF + 1) if by]
    return [
        *_even(Kind.ORDER, [Wiring(order=order) for order in _orders(port)]),
        *_even(Kind.WIDTH, [Wiring(order=order) for order in _other_widths(port)]),
        *_even(Kind.SLOT, [Wiring(slot_by=by) for by in slots]),
        *_even(Kind.UNIVERSE, [Wiring(universe_by=by) for by in (-1, 1)]),
        *_even(Kind.BASE, [Wiring(universe_by=by, whole_controller=True) for by in (-1, 1)]),
        *_even(Kind.ADDRESSING, [Wiring(other_addressing=True)]),
        *_even(Kind.SKIP, [Wiring(skip_by=by) for by in skips]),
        *_even(Kind.TURNED, [Wiring(turned=True)]),
        *_even(Kind.SWAPPED, [Wiring(feeder=name) for name in _feeders(display, controller, port)]),
        *_even(Kind.GROUPED, [Wiring(group=group) for group in GROUPS]),
    ]


def wiring_pairs(singles: list[Thought]) -> Iterator[tuple[Wiring, float]]:
    """Yield the likeliest wirings with two things not as planned, each with its weight."""
    orders = _first(singles, Kind.ORDER, PAIRED_ORDERS)
    slots = [
        each
        for each in _first(singles, Kind.SLOT, 2 * SLOTS_OFF)
        if abs(each.wiring.slot_by) <= PAIRED_SLOTS_OFF
    ]
    others = [
        *slots,
        *_first(singles, Kind.TURNED, 1),
        *_first(singles, Kind.SWAPPED, PAIRED_FEEDERS),
        *_first(singles, Kind.UNIVERSE, 2),
    ]
    for one, other in product(orders, others):
        yield both(one.wiring, other.wiring), one.percent * other.percent


def wirings_under_breaks(singles: list[Thought]) -> list[Thought]:
    """Return the wirings that are thought of together with a break."""
    return [
        *_first(singles, Kind.ORDER, PAIRED_ORDERS),
        *_first(singles, Kind.TURNED, 1),
        *_first(singles, Kind.SWAPPED, PAIRED_FEEDERS),
        *_first(singles, Kind.UNIVERSE, 2),
    ]


def both(one: Wiring, other: Wiring) -> Wiring:
    """Return a wiring with what is not as planned in either."""
    changed = {
        field.name: getattr(each, field.name)
        for each in (one, other)
        for field in fields(Wiring)
        if getattr(each, field.name) != getattr(STRAIGHT, field.name)
    }
    return Wiring(**changed)


def _even(kind: Kind, wirings: list[Wiring]) -> list[Thought]:
    return [Thought(kind, wiring, TRADE[kind].percent / len(wirings)) for wiring in wirings]


def _first(singles: list[Thought], kind: Kind, count: int) -> list[Thought]:
    return [each for each in singles if each.kind is kind][:count]


def _orders(port: Port) -> list[str]:
    """Return the other orders of the same lights, those nearest to the plan first."""
    found = ["".join(order) for order in permutations(port.colour_order)]
    return sorted((order for order in found if order != port.colour_order), key=lambda o: _distance(o, port))


def _other_widths(port: Port) -> list[str]:
    """Return the orders of RGBW where RGB is planned, the white last, and the reverse."""
    white = "" if WHITE in port.colour_order else WHITE
    return ["".join(order) + white for order in permutations(COLOURS)]


def _distance(order: str, port: Port) -> int:
    return sum(one != other for one, other in zip(order, port.colour_order, strict=True))


def _feeders(display: Display, controller: Controller, port: Port) -> list[str]:
    """Return the other ports, those of the same controller and of near numbers first."""
    found = [
        (each.name != controller.name, abs(other.number - port.number), other.name)
        for each in display.controllers
        for other in each.ports
        if other.name != port.name
    ]
    return [name for _, _, name in sorted(found)][:FEEDERS_MAX]
