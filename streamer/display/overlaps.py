"""Finds strings and fixtures that claim the same slots of the same stream, fast enough for thousands."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.display.model import (
    COLOUR_ORDERS,
    SLOTS_PER_UNIVERSE,
    Addressing,
    Controller,
    Display,
    Fixture,
    Port,
    Protocol,
)
from streamer.display.numbering import NUMBER_KEY, UNIVERSE_RANGE, slots_text, universe_text
from streamer.display.places import KeyPath, Locate, plain
from streamer.display.slots import slots_of_line
from streamer.display.wording import problem_at
from streamer.errors import Problem

TOLD_LIMIT = 50
"""Overlaps told one by one; a copied block can make thousands."""
PAIRS_LIMIT = 10_000
"""Overlaps looked at. Bounds memory: n parties on one slot make n (n - 1) / 2."""

Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Party:
    """A string or a fixture that claims slots."""

    name: str
    controller: int
    """Index in the display."""
    path: KeyPath
    is_string: bool
    width: int
    """Slots that must stay together at its start."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """Which slots each party claims: E extents, each an unbroken run of slots of one universe."""

    parties: tuple[Party, ...]
    rows: tuple[tuple[int, int], ...]
    """The first extent of each party, and the one past its last."""
    party: Numbers
    """(E,): index of the party."""
    destination: Numbers
    """(E,): the same for the same protocol and address."""
    universe: Numbers
    """(E,)"""
    first: Numbers
    """(E,): slot, from 0."""
    last: Numbers
    """(E,): slot, from 0, included."""


def geometry_of(display: Display) -> Geometry:
    """Return the extents of every string and fixture whose start and colour order make sense."""
    parties: list[Party] = []
    pieces: list[Numbers] = []
    rows: list[tuple[int, int]] = []
    destinations: dict[tuple[Protocol, str], int] = {}
    count = 0
    for index, controller in enumerate(display.controllers):
        key = (controller.protocol, controller.address)
        destination = destinations.setdefault(key, len(destinations))
        for party, extents in _claims(index, controller):
            head = np.broadcast_to(np.array([[len(parties)], [destination]]), (2, extents.shape[1]))
            pieces.append(np.concatenate([head, extents]))
            parties.append(party)
            rows.append((count, count + extents.shape[1]))
            count += extents.shape[1]
    table = np.concatenate([np.zeros((5, 0), np.int64), *pieces], axis=1)
    return Geometry(tuple(parties), tuple(rows), *table)


def _claims(index: int, controller: Controller) -> Iterator[tuple[Party, Numbers]]:
    """Yield each party of a controller with its extents: universe, first and last slot, a (3, n) array."""
    for j, port in enumerate(controller.ports):
        if port.colour_order in COLOUR_ORDERS and _in_range(controller, port):
            width = len(port.colour_order)
            path: KeyPath = ("controllers", index, "ports", j)
            yield Party(port.name, index, path, is_string=True, width=width), _extents(controller, port)
    for j, fixture in enumerate(controller.fixtures):
        if _in_range(controller, fixture):
            width = len(fixture.channels)
            path = ("controllers", index, "fixtures", j)
            first = fixture.slot - 1
            last = min(first + width, SLOTS_PER_UNIVERSE) - 1
            extents = np.array([[fixture.universe], [first], [last]], np.int64)
            yield Party(fixture.name, index, path, is_string=False, width=width), extents


def _in_range(controller: Controller, item: Port | Fixture) -> bool:
    first, last = UNIVERSE_RANGE[controller.protocol]
    return first <= item.universe <= last


def _extents(controller: Controller, port: Port) -> Numbers:
    universe, slot = (grid.reshape(-1) for grid in slots_of_line(controller, port))
    ends = np.append(np.flatnonzero(np.diff(universe)), len(universe) - 1)
    starts = np.append(0, ends[:-1] + 1)
    return np.stack([universe[starts], slot[starts], slot[ends]]).astype(np.int64)


def overlaps(display: Display, geometry: Geometry, locate: Locate) -> Iterator[Problem]:
    """Yield one problem for each pair of parties that claim the same slots."""
    shared = _shared(geometry)
    for count, ((one, other), runs) in enumerate(shared.items()):
        if count == TOLD_LIMIT:
            more = f"more strings or fixtures overlap than the {TOLD_LIMIT} pairs told"
            yield problem_at(locate, (), more, "Mend those first and check again")
            return
        yield _overlap(display, geometry, (one, other), runs, locate)


def _shared(geometry: Geometry) -> dict[tuple[int, int], list[tuple[int, int, int]]]:
    """Return, for each pair of parties, what both claim: universe, first and last slot, in order."""
    base = (
        geometry.destination * (UNIVERSE_RANGE[Protocol.E131][1] * 2) + geometry.universe
    ) * SLOTS_PER_UNIVERSE
    order = np.argsort(base + geometry.first, kind="stable")
    starts, ends = (base + geometry.first)[order], (base + geometry.last)[order]
    later = np.searchsorted(starts, ends, side="right") - np.arange(len(starts)) - 1
    rows = int(np.searchsorted(np.cumsum(later), PAIRS_LIMIT)) + 1
    left = np.repeat(np.arange(len(later[:rows])), later[:rows])
    right = left + 1 + np.arange(len(left)) - np.repeat(np.cumsum(later[:rows]) - later[:rows], later[:rows])
    left, right = order[left], order[right]
    pairs: dict[tuple[int, int], list[tuple[int, int, int]]] = {}
    first = np.maximum(geometry.first[left], geometry.first[right])
    last = np.minimum(geometry.last[left], geometry.last[right])
    both = np.sort(np.stack([geometry.party[left], geometry.party[right]]), axis=0)
    for one, other, *run in zip(
        *both.tolist(), geometry.universe[left].tolist(), first.tolist(), last.tolist(), strict=True
    ):
        pairs.setdefault((one, other), []).append((run[0], run[1], run[2]))
    return pairs


def _overlap(
    display: Display,
    geometry: Geometry,
    pair: tuple[int, int],
    runs: list[tuple[int, int, int]],
    locate: Locate,
) -> Problem:
    one, other = (geometry.parties[row] for row in pair)
    controller = display.controllers[other.controller]
    line = locate(one.path).line
    what = (
        f"{plain(other.name)} and {plain(one.name)}{f' (line {line})' if line else ''} both use "
        f"{_runs_text(controller.protocol, sorted(runs))} at {controller.address}"
    )
    key = "slot" if other.path else ""
    return problem_at(locate, (*other.path, key), what, _next_start(controller, geometry, pair))


def _runs_text(protocol: Protocol, runs: list[tuple[int, int, int]]) -> str:
    first, *_, last = [runs[0], *runs]
    if len(runs) == 1:
        return f"{universe_text(protocol, first[0])}, {slots_text(first[1] + 1, first[2] + 1)}"
    return (
        f"everything from {universe_text(protocol, first[0])}, slot {first[1] + 1} "
        f"to {universe_text(protocol, last[0])}, slot {last[2] + 1}"
    )


def _next_start(controller: Controller, geometry: Geometry, pair: tuple[int, int]) -> str:
    """Say where the second party could start: right behind the first."""
    one, other = (geometry.parties[row] for row in pair)
    end = geometry.rows[pair[0]][1] - 1
    universe, slot = int(geometry.universe[end]), int(geometry.last[end]) + 2
    together = 1 if other.is_string and controller.addressing is Addressing.PACKED else other.width
    if slot + together - 1 > SLOTS_PER_UNIVERSE:
        universe, slot = universe + 1, 1
    if universe > UNIVERSE_RANGE[controller.protocol][1]:
        return "Move one of the two to other slots"
    return (
        f"Move one of the two; {plain(other.name)} could begin behind {plain(one.name)}: "
        f"{NUMBER_KEY[controller.protocol]} = {universe}, slot = {slot}"
    )
