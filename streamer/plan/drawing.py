"""The strings of a display as lines on paper: where they hang, where the data enters. Not how it is drawn."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.display.layout import layout_of
from streamer.display.model import Controller, Display, Port

WIDTH_MM = 180.0
ROW_MM = 4.4
MARGIN_MM = 6.0
"""Room for the marks at the ends."""
LEAST_M = 0.1
"""A display that is a point is drawn as if it were so wide."""
DECIMALS = 2
STEPS_PER_MM = 1_000_000

Floats = NDArray[np.float64]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Piece:
    """One segment: a line from its first node to its last, in millimetres from the top left."""

    x1: float
    y1: float
    x2: float
    y2: float
    step: float
    """From node to node; 0 where there is one node."""


@dataclass(frozen=True, slots=True)
class Strand:
    """One string: its pieces, in the order in which they hang."""

    name: str
    """ "jetty/1"."""
    number: int
    pieces: tuple[Piece, ...]
    x: float
    y: float
    """Where the data enters."""
    fed: tuple[Place, ...] = ()
    """Where power is fed in as well."""
    to_feed: tuple[Place, ...] = ()
    """Where it is advised to be."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A fixture."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """One controller's strings and fixtures, and those of the others to find one's way by."""

    width: float
    height: float
    mine: tuple[Strand, ...]
    others: tuple[Strand, ...]
    spots: tuple[Spot, ...]


def drawing_of(
    display: Display,
    controller: Controller,
    height_most_mm: float,
    advised: Mapping[str, Sequence[int]] | None = None,
) -> Drawing:
    """Return the drawing: what has positions as it hangs, seen from the front; the other strings as rows.

    Of the other controllers only what has positions. A drawing of many rows is higher than asked. `advised`:
    by the names of strings, after which nodes more feeds are advised, from 1 where data and power enter.
    """
    advised = advised or {}
    ports = [(each, port) for each in display.controllers for port in each.ports]
    spotted = [fixture for fixture in controller.fixtures if fixture.position]
    positions = layout_of(display).positions[:, :2].astype(np.float64)
    ends = np.cumsum([port.nodes for _, port in ports], dtype=np.intp)[:-1]
    nodes = list(zip(ports, np.split(positions, ends) if ports else [], strict=True))
    hung = [(each, port, points) for (each, port), points in nodes if _is_placed(port)]
    rows = [(port, points) for (each, port), points in nodes if each is controller and not _is_placed(port)]
    places = np.array([fixture.position[:2] for fixture in spotted if fixture.position]).reshape(-1, 2)
    room_mm = max(height_most_mm - ROW_MM * len(rows), height_most_mm / 2)
    scale = _Scale(np.concatenate([places, *(points for _, _, points in hung)]), room_mm)
    strands = [
        (each is controller, _strand(port, scale.put(points), advised.get(port.name, ())))
        for each, port, points in hung
    ]
    spots = zip(spotted, scale.put(places).tolist(), strict=True)
    return Drawing(
        WIDTH_MM,
        scale.height + ROW_MM * len(rows),
        tuple([strand for is_mine, strand in strands if is_mine] + _rows(rows, scale.height, advised)),
        tuple(strand for is_mine, strand in strands if not is_mine),
        tuple(Spot(fixture.name, x, y) for fixture, (x, y) in spots),
    )


def _is_placed(port: Port) -> bool:
    return any(segment.start is not None for segment in port.segments)


class _Scale:
    """Turns positions in metres, y up, into places on the paper: millimetres, y down."""

    def __init__(self, points: Floats, height_most_mm: float) -> None:
        self.height = 0.0
        if not len(points):
            return
        self._low, high = points.min(axis=0), points.max(axis=0)
        across, up = np.maximum(high - self._low, LEAST_M).tolist()
        self._mm_per_m = min(
            (WIDTH_MM - 2 * MARGIN_MM) / across,
            (height_most_mm - 2 * MARGIN_MM) / up,
        )
        self.height = round(up * self._mm_per_m + 2 * MARGIN_MM, DECIMALS)
        self._left = (WIDTH_MM - across * self._mm_per_m) / 2

    def put(self, points: Floats) -> Floats:
        """Return (n, 2) places."""
        if not len(points):
            return points
        placed = (points - self._low) * self._mm_per_m
        x = self._left + placed[:, 0]
        y = self.height - MARGIN_MM - placed[:, 1]
        return np.round(np.stack([x, y], axis=1), DECIMALS)


def _rows(
    rows: Sequence[tuple[Port, Floats]], top: float, advised: Mapping[str, Sequence[int]]
) -> list[Strand]:
    """Return strings one under the other, from the left, to a scale of their own."""
    longest_m = max((float(np.ptp(points[:, 0])) for _, points in rows), default=0.0)
    mm_per_m = (WIDTH_MM - 2 * MARGIN_MM) / max(longest_m, LEAST_M)
    strands = []
    for row, (port, points) in enumerate(rows):
        x = MARGIN_MM + (points[:, 0] - points[0, 0]) * mm_per_m
        y = np.full(len(points), top + ROW_MM * (row + 1 / 2))
        places = np.round(np.stack([x, y], axis=1), DECIMALS)
        strands.append(_strand(port, places, advised.get(port.name, ())))
    return strands


def _strand(port: Port, nodes: Floats, advised: Sequence[int]) -> Strand:
    ends = np.cumsum([segment.nodes for segment in port.segments]).tolist()
    pieces = tuple(
        _piece(nodes[end - segment.nodes : end]) for segment, end in zip(port.segments, ends, strict=True)
    )
    from_the_feed = nodes[::-1] if port.reversed else nodes
    x, y = from_the_feed[0].tolist()
    fed = _after(from_the_feed, [injection.after for injection in port.injections])
    return Strand(port.name, port.number, pieces, x, y, fed, _after(from_the_feed, advised))


def _after(nodes: Floats, after: Sequence[int]) -> tuple[Place, ...]:
    """Return the places of nodes, from 1."""
    return tuple((x, y) for x, y in nodes[[number - 1 for number in after]].tolist())


def _piece(nodes: Floats) -> Piece:
    (x1, y1), (x2, y2) = nodes[0].tolist(), nodes[-1].tolist()
    length = float(np.hypot(x2 - x1, y2 - y1))
    # Not a hair too long: the last node would lie behind the end of the line, and not be drawn.
    step = math.floor(length / max(len(nodes) - 1, 1) * STEPS_PER_MM) / STEPS_PER_MM
    return Piece(x1, y1, x2, y2, step)
