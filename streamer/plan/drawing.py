"""The strings of a display as lines on paper: where they hang, where the data enters. Not how it is drawn."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.display.layout import layout_of
from streamer.display.model import Controller, Display, Port

WIDTH_MM = 180.0
MARGIN_MM = 6.0
"""Room for the marks at the ends."""
LEAST_M = 0.1
"""A display that is a point is drawn as if it were so wide."""
DECIMALS = 2

Floats = NDArray[np.float64]


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
    number: int
    pieces: tuple[Piece, ...]
    x: float
    y: float
    """Where the data enters."""


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


def drawing_of(display: Display, controller: Controller, height_most_mm: float) -> Drawing:
    """Return the drawing, seen from the front, to one scale; strings without positions are rows."""
    flat = layout_of(display).positions[:, :2].astype(np.float64)
    spotted = [fixture for fixture in controller.fixtures if fixture.position]
    places = np.array([fixture.position[:2] for fixture in spotted if fixture.position], np.float64)
    paper = _Paper(np.concatenate([flat, places.reshape(-1, 2)]), height_most_mm)
    mine: list[Strand] = []
    others: list[Strand] = []
    start = 0
    for each in display.controllers:
        for port in each.ports:
            strand = _strand(port, paper.put(flat[start : start + port.nodes]))
            (mine if each.name == controller.name else others).append(strand)
            start += port.nodes
    spots = zip(spotted, paper.put(places.reshape(-1, 2)).tolist(), strict=True)
    return Drawing(
        paper.width,
        paper.height,
        tuple(mine),
        tuple(others),
        tuple(Spot(fixture.name, x, y) for fixture, (x, y) in spots),
    )


class _Paper:
    """Puts positions in metres, y up, on paper: millimetres, y down."""

    def __init__(self, points: Floats, height_most_mm: float) -> None:
        self._low, high = points.min(axis=0), points.max(axis=0)
        across, up = np.maximum(high - self._low, LEAST_M).tolist()
        room_mm = WIDTH_MM - 2 * MARGIN_MM, height_most_mm - 2 * MARGIN_MM
        self._mm_per_m = min(room_mm[0] / across, room_mm[1] / up)
        self.width = WIDTH_MM
        self.height = round(up * self._mm_per_m + 2 * MARGIN_MM, DECIMALS)
        self._left = (WIDTH_MM - across * self._mm_per_m) / 2

    def put(self, points: Floats) -> Floats:
        """Return (n, 2) places on the paper."""
        placed = (points - self._low) * self._mm_per_m
        x = self._left + placed[:, 0]
        y = self.height - MARGIN_MM - placed[:, 1]
        return np.round(np.stack([x, y], axis=1), DECIMALS)


def _strand(port: Port, nodes: Floats) -> Strand:
    ends = np.cumsum([segment.nodes for segment in port.segments]).tolist()
    pieces = tuple(
        _piece(nodes[end - segment.nodes : end]) for segment, end in zip(port.segments, ends, strict=True)
    )
    x, y = nodes[-1 if port.reversed else 0].tolist()
    return Strand(port.name, port.number, pieces, x, y)


def _piece(nodes: Floats) -> Piece:
    (x1, y1), (x2, y2) = nodes[0].tolist(), nodes[-1].tolist()
    length = float(np.hypot(x2 - x1, y2 - y1))
    return Piece(x1, y1, x2, y2, round(length / max(len(nodes) - 1, 1), DECIMALS + 2))
