"""Thinks of everything that may be the matter with one port: a row a hypothesis.

A row is a wiring of the whole string, and at most one thing at one place on it.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from streamer.display.model import Display
from streamer.display.patch import COMPONENT_OF
from streamer.display.slots import slots_of_line
from streamer.find.answers import BLUE_CODE, GREEN_CODE, RED_CODE, WHITE_CODE
from streamer.find.canvas import Canvas, controller_of
from streamer.find.kinds import JOINT_WEIGHT, TRADE, Kind
from streamer.find.shares import Shares
from streamer.find.string import PlannedString
from streamer.find.wiring import STRAIGHT, Wiring
from streamer.find.wirings import Thought, single_wirings, wiring_pairs, wirings_under_breaks

ALL_KINDS = frozenset(Kind)
IN_COLOUR = frozenset({Kind.ORDER, Kind.WIDTH})
KEEP_ALL = 15
NO_PLACE = -1
MORE_LEAST = 50
"""A string may have so many lights more than planned, or half as many again if that is more."""
STUCK_CODES = (WHITE_CODE, RED_CODE, GREEN_CODE, BLUE_CODE)


@dataclass(frozen=True, slots=True)
class Row:
    """One hypothesis. Places count from 0 in the order of the data."""

    kind: Kind
    wiring: Wiring
    reach: int
    """How many lights, from the fed end, get data."""
    hung: int
    """How many lights hang there."""
    is_flipped: bool
    """Whether the data comes in at the end that people count last."""
    percent: float
    at: int = NO_PLACE
    """The one light that is not as the others."""
    keep: int = KEEP_ALL
    """A bit for each of its colours that it can show."""
    add: int = 0
    """A bit for each that it always shows."""
    unsteady_from: int | None = None
    """The first light that flickers."""


class Thinking:
    """Thinks of every hypothesis for one port of a display; PlanError where there is no such port."""

    def __init__(
        self,
        display: Display,
        name: str,
        suspects: frozenset[Kind] = ALL_KINDS,
        *,
        even: bool = False,
        in_colour: bool = True,
    ) -> None:
        self.display = display
        self.controller, self.port = controller_of(display, name)
        self.string = PlannedString(self.port)
        self._suspects, self.is_even, self._in_colour = suspects, even, in_colour
        self.lights = self.port.nodes + max(MORE_LEAST, self.port.nodes // 2)
        self.canvas = Canvas(display, self.controller, self._universes())
        beside = [each for each in self.controller.ports if each.name != name]
        self.witness = min(beside, key=lambda each: abs(each.number - self.port.number), default=None)

    def _universes(self) -> range:
        """Return the universes of the string, those past its end, and one more at each side."""
        longest = self.port.model_copy(
            update={"segments": (self.port.segments[0].model_copy(update={"nodes": self.lights}),)}
        )
        used = slots_of_line(self.controller, longest)[0]
        return range(int(used.min()) - 1, int(used.max()) + 2)

    @property
    def thought_of(self) -> frozenset[Kind]:
        """The kinds thought of. Where no colours are looked at, their order is not."""
        suspects = self._suspects if self._in_colour else self._suspects - IN_COLOUR
        return suspects | {Kind.HEALTHY}

    def rows(self) -> list[Row]:
        """Return those of the suspects, and that it is healthy; all equally likely if that is asked for."""
        kinds = self.thought_of
        found = [
            row for row in self._all_rows() if row.kind in kinds and (self._in_colour or not row.wiring.order)
        ]
        return [replace(row, percent=1.0) for row in found] if self.is_even else found

    def _all_rows(self) -> Iterator[Row]:
        nodes, flipped = self.port.nodes, self.port.reversed
        singles = single_wirings(self.display, self.controller, self.port)
        whole = Row(Kind.HEALTHY, STRAIGHT, nodes, nodes, flipped, TRADE[Kind.HEALTHY].percent)
        yield whole
        yield replace(whole, kind=Kind.NOTHING, reach=0, percent=TRADE[Kind.NOTHING].percent)
        for thought in singles:
            yield replace(
                whole,
                kind=thought.kind,
                wiring=thought.wiring,
                is_flipped=flipped != thought.wiring.turned,
                percent=thought.percent,
            )
        yield from self._counts(whole)
        yield from self._breaks(whole, TRADE[Kind.BREAK].percent)
        yield from self._single_lights(whole)
        yield from self._pairs(whole, singles)

    def _counts(self, whole: Row) -> Iterator[Row]:
        nodes = self.port.nodes
        for count in range(1, nodes):
            percent = TRADE[Kind.FEWER].percent / nodes
            yield replace(whole, kind=Kind.FEWER, reach=count, hung=count, percent=percent)
        longer = replace(whole, kind=Kind.MORE, wiring=Wiring(longer=True))
        for count in range(nodes + 1, self.lights + 1):
            percent = TRADE[Kind.MORE].percent / (self.lights - nodes)
            yield replace(longer, reach=count, hung=count, percent=percent)

    def _shares(self, first: int, percent: float) -> Shares:
        """Return the share of each place, from `first` in the order of the data: joints have more."""
        joints = [self.port.nodes - joint if self.port.reversed else joint for joint in self.string.joints]
        weights = np.ones(self.port.nodes)
        weights[[joint for joint in joints if joint < self.port.nodes]] = JOINT_WEIGHT
        weights = weights[first:]
        return np.asarray(weights * (percent / max(weights.sum(), 1.0)))

    def _breaks(self, whole: Row, percent: float) -> Iterator[Row]:
        for reach, share in enumerate(self._shares(1, percent).tolist(), 1):
            yield replace(whole, kind=Kind.BREAK, reach=reach, percent=share)

    def _single_lights(self, whole: Row) -> Iterator[Row]:
        nodes = self.port.nodes
        dead, colour, stuck = (TRADE[kind].percent / nodes for kind in (Kind.DEAD, Kind.COLOUR, Kind.STUCK))
        lights = [COMPONENT_OF[each] for each in self.port.colour_order]
        for at in range(nodes):
            yield replace(whole, kind=Kind.DEAD, at=at, keep=0, percent=dead)
            for light in lights:
                keep = KEEP_ALL & ~(1 << light)
                yield replace(whole, kind=Kind.COLOUR, at=at, keep=keep, percent=colour / len(lights))
            for code in STUCK_CODES:
                percent = stuck / len(STUCK_CODES)
                yield replace(whole, kind=Kind.STUCK, at=at, keep=0, add=code, percent=percent)
        for at, share in enumerate(self._shares(0, TRADE[Kind.FLICKER].percent).tolist()):
            yield replace(whole, kind=Kind.FLICKER, unsteady_from=at, percent=share)

    def _pairs(self, whole: Row, singles: list[Thought]) -> Iterator[Row]:
        """Yield the likeliest pairs, their shares in proportion to the product of the two."""
        rows = [
            replace(
                whole,
                kind=Kind.PAIR,
                wiring=wiring,
                is_flipped=self.port.reversed != wiring.turned,
                percent=weight,
            )
            for wiring, weight in wiring_pairs(singles)
        ]
        for thought in wirings_under_breaks(singles):
            base = replace(
                whole, wiring=thought.wiring, is_flipped=self.port.reversed != thought.wiring.turned
            )
            weight = thought.percent * TRADE[Kind.BREAK].percent
            rows += [replace(row, kind=Kind.PAIR) for row in self._breaks(base, weight)]
        total = sum(row.percent for row in rows)
        for row in rows:
            yield replace(row, percent=row.percent * TRADE[Kind.PAIR].percent / total)
