"""The display as its patterns see it: strings of nodes with places and positions, and fixture channels."""

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Layout
from streamer.display.model import Controller, Display, Port
from streamer.display.numbering import universe_text
from streamer.display.slots import slots_of_string

DEFAULT_SPACING_M = 0.05
"""Used to draw a string whose segments give no spacing; common practice, no source."""
MM_IN_M = 1000
ROW_GAP_M = 0.3
"""Strings without positions are drawn one under the other, this far apart."""


def layout_of(display: Display) -> Layout:
    """Return the layout of a display that has passed its checks."""
    pairs = list(_ports(display))
    lengths = np.array([port.nodes for _, port in pairs], np.int32)
    strings = np.arange(len(pairs), dtype=np.int32)
    starts = np.cumsum(lengths, dtype=np.int32) - lengths
    fixtures = [fixture for controller in display.controllers for fixture in controller.fixtures]
    return Layout(
        string_names=tuple(port.name for _, port in pairs),
        string_starts=starts,
        string_lengths=lengths,
        string_of_node=np.repeat(strings, lengths),
        place=np.arange(lengths.sum(), dtype=np.int32) - np.repeat(starts, lengths),
        universe_of_node=np.concatenate([[], *(slots_of_string(c, p)[0][:, 0] for c, p in pairs)]).astype(
            np.int32
        ),
        has_white=np.repeat(np.array(["W" in port.colour_order for _, port in pairs], np.bool_), lengths),
        positions=np.concatenate(
            [np.zeros((0, 3)), *(_positions(port, row) for row, (_, port) in enumerate(pairs))]
        ).astype(np.float32),
        is_neighbour=np.array([port.neighbour for _, port in pairs], np.bool_),
        universe_texts=_universe_texts(pairs),
        fixture_names=tuple(fixture.name for fixture in fixtures),
        channel_roles=tuple(role.value for fixture in fixtures for role in fixture.channels),
        fixture_of_channel=np.repeat(
            np.arange(len(fixtures), dtype=np.int32), [len(fixture.channels) for fixture in fixtures]
        ),
    )


def _universe_texts(pairs: Iterable[tuple[Controller, Port]]) -> dict[int, str]:
    """Return how each universe is told; one number may be a universe and a Port-Address."""
    told: dict[int, list[str]] = {}
    for controller, port in pairs:
        for number in np.unique(slots_of_string(controller, port)[0]).tolist():
            text = universe_text(controller.protocol, number)
            if text not in told.setdefault(number, []):
                told[number].append(text)
    return {number: " and ".join(texts) for number, texts in told.items()}


def _ports(display: Display) -> Iterator[tuple[Controller, Port]]:
    for controller in display.controllers:
        for port in controller.ports:
            yield controller, port


def _positions(port: Port, row: int) -> NDArray[np.float64]:
    along_m = 0.0
    pieces = []
    for segment in port.segments:
        spacing_m = segment.spacing_mm / MM_IN_M if segment.spacing_mm else DEFAULT_SPACING_M
        if segment.start is not None and segment.end is not None:
            piece = np.linspace(segment.start, segment.end, segment.nodes)
        else:
            x = along_m + spacing_m * np.arange(segment.nodes)
            piece = np.stack([x, np.full(segment.nodes, -ROW_GAP_M * row), np.zeros(segment.nodes)], axis=1)
        pieces.append(piece)
        along_m += spacing_m * segment.nodes
    return np.concatenate(pieces)
