"""The pictures that are always there to choose from: fills, parts, ends, and what lies past the end."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import (
    BLUE_CODE,
    CYAN_CODE,
    GREEN_CODE,
    MAGENTA_CODE,
    RED_CODE,
    WHITE_CODE,
    WHITE_LIGHT_CODE,
    YELLOW_CODE,
    Eyes,
)
from streamer.find.picture import Painter, Picture

SOLID = (RED_CODE, GREEN_CODE, BLUE_CODE, YELLOW_CODE, CYAN_CODE, MAGENTA_CODE, WHITE_CODE)
PRIMARIES = (RED_CODE, GREEN_CODE, BLUE_CODE)
THIRDS, HALVES = 3, 2
AT_AN_END = 6
"""So many lights differ at an end: nobody is asked to count them."""


def still_pictures(painter: Painter, eyes: Eyes, nodes: int, *, has_white: bool) -> list[Picture]:
    """Return the pictures for a string of so many planned lights."""
    whole = np.arange(painter.lights) < nodes
    pictures = [
        painter.planned(np.where(whole, code, 0).astype(np.uint8), is_whole=True)
        for code in (*SOLID, *([WHITE_LIGHT_CODE] if has_white else []))
    ]
    pictures.append(painter.planned(np.zeros(painter.lights, np.uint8)))
    parts = [
        painter.planned(codes, is_whole=bool((codes[:nodes] != 0).all()))
        for codes in _parts(painter, eyes, nodes)
    ]
    return pictures + parts


def _parts(painter: Painter, eyes: Eyes, nodes: int) -> Iterator[Bytes]:
    lights = np.arange(painter.lights)
    inside = lights < nodes
    yield _cycle(PRIMARIES, lights * THIRDS // nodes, inside)
    yield _cycle((RED_CODE, BLUE_CODE), lights * HALVES // nodes, inside)
    yield _cycle(PRIMARIES, lights, inside)
    yield _cycle(eyes.blocks, lights, inside)
    yield _cycle(eyes.blocks, lights, lights < AT_AN_END)
    yield _cycle(eyes.blocks, lights - nodes + AT_AN_END, inside & (lights >= nodes - AT_AN_END))
    yield _cycle(eyes.blocks, lights - nodes, lights >= nodes)
    yield _cycle((RED_CODE,), lights, lights < 1)
    yield _cycle((BLUE_CODE,), lights, lights == nodes - 1)
    yield _cycle((RED_CODE, GREEN_CODE), np.minimum(lights, 1), inside)
    yield np.where(
        lights == nodes - 1, RED_CODE, _cycle((RED_CODE, BLUE_CODE), np.minimum(lights, 1), inside)
    )
    yield np.where(lights == nodes - 1, BLUE_CODE, _cycle((RED_CODE,), lights, lights < 1))


def _cycle(codes: tuple[int, ...], which: Indices, where: NDArray[np.bool_]) -> Bytes:
    return np.where(where, np.array(codes, np.uint8)[which % len(codes)], 0).astype(np.uint8)
