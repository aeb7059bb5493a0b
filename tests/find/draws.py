"""Draws a hypothesis, and gives the yard the faults that it stands for."""

import random
from collections.abc import Callable, Iterator
from typing import Literal

from streamer.display.model import Display
from streamer.find.finding import Bench
from streamer.find.hypotheses import Table
from streamer.find.kinds import Kind
from streamer.find.rows import NO_PLACE, Row
from streamer.yard.faults import (
    Break,
    DeadColour,
    DeadNode,
    Fault,
    Flicker,
    Grouped,
    NodeCount,
    OtherAddressing,
    Skipped,
    StuckNode,
    Swapped,
    Turned,
    WrongOrder,
    WrongSlot,
    WrongUniverse,
)

Light = Literal["red", "green", "blue", "white"]
LIGHTS: tuple[Light, ...] = ("red", "green", "blue", "white")
STUCK: dict[int, Light] = {7: "white", 1: "red", 2: "green", 4: "blue"}


def met(table: Table, chance: random.Random) -> int:
    """Return a hypothesis as often as the trade meets it."""
    return chance.choices(range(len(table)), table.views[0].tolist())[0]


def draw(table: Table, chance: random.Random) -> int:
    """Return a hypothesis: each kind as likely as any other, then each of its kind."""
    by_kind: dict[Kind, list[int]] = {}
    for number, row in enumerate(table.rows):
        by_kind.setdefault(row.kind, []).append(number)
    return chance.choice(by_kind[chance.choice(sorted(by_kind))])


def faults_of(bench: Bench, row: Row) -> dict[str, list[Fault]]:
    """Return the yard's faults, by port, of a hypothesis."""
    thinking = bench.thinking
    found = {thinking.port.name: [*_set_up(row), *_on_the_string(row, thinking.port.nodes)]}
    if row.wiring.whole_controller:
        by = WrongUniverse(by=row.wiring.universe_by)
        found |= {each.name: [by] for each in thinking.controller.ports if each.name != thinking.port.name}
    return found


def _set_up(row: Row) -> Iterator[Fault]:
    wiring = row.wiring
    made = (
        (wiring.order, lambda: WrongOrder(colour_order=wiring.order)),
        (wiring.slot_by, lambda: WrongSlot(by=wiring.slot_by)),
        (wiring.universe_by, lambda: WrongUniverse(by=wiring.universe_by)),
        (wiring.skip_by, lambda: Skipped(by=wiring.skip_by)),
        (wiring.group > 1, lambda: Grouped(lights=wiring.group)),
        (wiring.other_addressing, OtherAddressing),
        (wiring.turned, Turned),
        (wiring.feeder, lambda: Swapped(port=wiring.feeder)),
    )
    yield from (make() for is_so, make in made if is_so)


def _on_the_string(row: Row, planned: int) -> Iterator[Fault]:
    place = _place(row.hung, is_flipped=row.is_flipped)
    if row.hung != planned:
        yield NodeCount(nodes=row.hung)
    if row.reach < row.hung:
        # A string that gets nothing is broken before its first light, whichever end is fed.
        yield Break(after=0 if row.reach == 0 else place(row.reach - 1))
    if row.at != NO_PLACE:
        yield _at_one_light(row, place(row.at))
    if row.unsteady_from is not None:
        yield Flicker(node=place(row.unsteady_from))


def _at_one_light(row: Row, node: int) -> Fault:
    if row.kind is Kind.DEAD:
        return DeadNode(node=node)
    if row.kind is Kind.STUCK:
        return StuckNode(node=node, colour=STUCK[row.add])
    (lost,) = (light for light in range(4) if not row.keep >> light & 1)
    return DeadColour(node=node, light=LIGHTS[lost])


def _place(hung: int, *, is_flipped: bool) -> Callable[[int], int]:
    """Return what tells how people count a place in the order of the data."""
    return lambda data: hung - data if is_flipped else data + 1


def ports_of(display: Display) -> list[str]:
    """Return the names of all ports."""
    return [port.name for port in display.ports]
