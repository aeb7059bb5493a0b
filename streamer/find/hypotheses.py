"""The table of all hypotheses for one port.

Those that no picture can tell apart are put together as one; the less likely ones of them are told beside it.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from patterns.plain import COMPONENTS, Bytes
from streamer.display.model import Port
from streamer.display.slots import Indices
from streamer.find.answers import SIX, Eyes
from streamer.find.canvas import Canvas
from streamer.find.columns import ABOVE, BELOW, SWAPPED, Columns
from streamer.find.kinds import Kind
from streamer.find.rows import Row, Thinking
from streamer.find.shares import Shares, added_up
from streamer.find.wiring import STRAIGHT, Wiring, slots_taken

Words = NDArray[np.uint64]
WIRINGS = 1024
"""Wirings remembered; most hypotheses share a few."""


@dataclass(frozen=True, slots=True)
class Table:
    """Every hypothesis that a picture can tell from the others: H rows."""

    rows: tuple[Row, ...]
    also: tuple[tuple[Row, ...], ...]
    """What looks the same whatever is shown, the likeliest first."""
    views: tuple[Shares, ...]
    """How likely each is before any answer, by every view that may be taken of that."""
    columns: Columns

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def prior(self) -> Shares:
        """How likely each is before any answer, (H,): the mean of all views."""
        return np.asarray(np.mean(self.views, axis=0))


def make_table(thinking: Thinking, eyes: Eyes = SIX) -> Table:
    """Return the table of all that is thought of, what these eyes can never tell apart in one row."""
    rows = thinking.rows()
    lights = thinking.lights
    ports = {port.name: (owner, port) for owner in thinking.display.controllers for port in owner.ports}
    number: dict[Wiring, int] = {}
    for row in rows:
        for wiring in (_source(row.wiring), _layout(row.wiring)):
            number.setdefault(wiring, len(number))
    taken = np.stack(
        [
            slots_taken(
                thinking.canvas, ports[wiring.feeder or thinking.port.name], thinking.port, wiring, lights
            )
            for wiring in number
        ],
        axis=1,
    )
    columns = _columns(rows, number, taken, thinking)
    percents = np.array([row.percent for row in rows])
    return _put_together(rows, percents / percents.sum(), columns, thinking, eyes)


@lru_cache(WIRINGS)
def _layout(wiring: Wiring) -> Wiring:
    """Return what decides which slots the lights take."""
    return replace(wiring, turned=False, whole_controller=False)


@lru_cache(WIRINGS)
def _source(wiring: Wiring) -> Wiring:
    """Return what decides where the data comes from at all."""
    return Wiring(universe_by=wiring.universe_by, feeder=wiring.feeder)


def _columns(rows: list[Row], number: dict[Wiring, int], taken: Indices, thinking: Thinking) -> Columns:
    lights = thinking.lights
    sources: dict[Wiring, int] = {STRAIGHT: 0}
    for row in rows:
        sources.setdefault(_source(row.wiring), len(sources))
    return Columns(
        taken=taken,
        witness_taken=_witness_taken(thinking),
        source_taken=taken[:, [number[each] for each in sources]],
        source=np.array([sources[_source(row.wiring)] for row in rows], np.intp),
        wiring=np.array([number[_layout(row.wiring)] for row in rows], np.intp),
        reach=np.array([row.reach for row in rows], np.intp),
        hung=np.array([row.hung for row in rows], np.intp),
        is_flipped=np.array([row.is_flipped for row in rows], np.bool_),
        at=np.array([row.at for row in rows], np.intp),
        keep=np.array([row.keep for row in rows], np.uint8),
        add=np.array([row.add for row in rows], np.uint8),
        unsteady_from=np.array(
            [lights if row.unsteady_from is None else row.unsteady_from for row in rows], np.intp
        ),
        witness=np.array([_witness_of(row.wiring, thinking.witness) for row in rows], np.intp),
    )


def _witness_of(wiring: Wiring, witness: Port | None) -> int:
    if witness is None:
        return 0
    if wiring.whole_controller:
        return BELOW if wiring.universe_by < 0 else ABOVE
    return SWAPPED if wiring.feeder == witness.name else 0


def _witness_taken(thinking: Thinking) -> Indices:
    controller, port, witness = thinking.controller, thinking.port, thinking.witness
    if witness is None:
        return np.full((COMPONENTS, SWAPPED + 1, 1), thinking.canvas.nowhere, np.intp)
    below, above = (Wiring(universe_by=by) for by in (-1, 1))
    ways = [(witness, STRAIGHT), (witness, below), (witness, above), (port, STRAIGHT)]
    return np.stack(
        [
            slots_taken(thinking.canvas, (controller, feeder), witness, wiring, witness.nodes)
            for feeder, wiring in ways
        ],
        axis=1,
    )


def _put_together(rows: list[Row], prior: Shares, columns: Columns, thinking: Thinking, eyes: Eyes) -> Table:
    """Return the table with one row for all that look the same in every picture there could be."""
    by_likelihood = np.argsort(-prior, kind="stable")
    signatures = _signatures(columns, thinking.canvas, eyes)[by_likelihood]
    _, first, group = np.unique(signatures, return_index=True, return_inverse=True)
    kept = by_likelihood[first]
    also: list[list[Row]] = [[] for _ in kept]
    for row, into in zip(by_likelihood.tolist(), group.tolist(), strict=True):
        if row != kept[into] and not _is_beside_the_point(rows[row], rows[kept[into]]):
            also[into].append(rows[row])
    found = tuple(rows[row] for row in kept.tolist())
    met = added_up(group, prior[by_likelihood], len(kept))
    views = (met,) if thinking.is_even else (met, _each_kind_alike(found, met))
    return Table(found, tuple(map(tuple, also)), views, columns.only(kept))


def _each_kind_alike(rows: tuple[Row, ...], met: Shares) -> Shares:
    """Return the shares if every kind is met as often as any other.

    Nobody knows how often each is met on this lawn; a rare kind is not to be taken for a common one because
    it is rare.
    """
    kinds, kind = np.unique([row.kind for row in rows], return_inverse=True)
    return np.asarray(met / added_up(kind, met, len(kinds))[kind] / len(kinds))


def _is_beside_the_point(row: Row, likeliest: Row) -> bool:
    """Say whether a hypothesis is no fault of this string, or a second one where no data goes anyway."""
    return likeliest.kind is Kind.HEALTHY or (row.kind is Kind.PAIR and row.wiring == likeliest.wiring)


def _signatures(columns: Columns, canvas: Canvas, eyes: Eyes) -> Words:
    """Return a number for each hypothesis: equal for those that map every picture to the same sight.

    What lights show is linear in what is sent, so a sum of random weights of 64 bits tells maps apart.
    """
    random = np.random.default_rng(0)
    components, wirings, lights = columns.taken.shape
    of_slot = random.integers(1, 2**63, canvas.nowhere + 1, np.uint64)
    of_slot[canvas.nowhere] = 0
    of_light = random.integers(1, 2**63, (components, 1, lights), np.uint64)
    parts = of_slot[columns.taken] * of_light
    upto = np.zeros((wirings, lights + 1), np.uint64)
    upto[:, 1:] = parts.sum(axis=0).cumsum(axis=1)
    found: Words = upto[columns.wiring, columns.reach]
    added = _as_seen(columns, eyes)
    always = random.integers(1, 2**63, components, np.uint64)
    place = np.maximum(columns.at, 0)
    for light in range(components):
        kills = (columns.at >= 0) & (columns.keep >> light & 1 == 0)
        adds = added >> light & 1 == 1
        found -= np.where(kills, parts[light, columns.wiring, place], np.uint64(0))
        found += np.where(adds, always[light] * of_light[light, 0, place], np.uint64(0))
    for column in (columns.hung, columns.is_flipped, columns.unsteady_from, columns.witness):
        salt = random.integers(1, 2**63, int(column.max(initial=0)) + 1, np.uint64)
        found += salt[column.astype(np.intp)]
    return found


def _as_seen(columns: Columns, eyes: Eyes) -> Bytes:
    """Return what each odd light always shows, (H,): one code for all that these eyes take for the same."""
    # The first code of each colour stands for the colour; a light that shows more than that is left as it is.
    of_colour = np.array([int(np.flatnonzero(eyes.seen == seen)[0]) for seen in eyes.seen], np.uint8)
    return np.where(columns.keep == 0, of_colour[columns.add], columns.add).astype(np.uint8)
