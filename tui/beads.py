"""How light is drawn: a lit node is a coloured cell with the letter of its colour, a dark one a dot.

A letter is large while the node is bright and small while it is dim. The colours are drawn at the
screen's brightness, not at the string's: what is lit can be seen.
"""

from functools import lru_cache
from typing import TYPE_CHECKING

from rich.color import Color
from rich.style import Style

if TYPE_CHECKING:
    from patterns.plain import Bytes, Ints

UNLIT = "·"
LETTERS = " BGCRMYW"
"""By which components are strong: blue 1, green 2, red 4."""
COLOUR_NAMES = {
    "R": "red", "G": "green", "B": "blue", "Y": "yellow", "C": "cyan", "M": "magenta", "W": "white",
}  # fmt: skip
STRONG_SHARE = 0.6
"""A component counts as strong from this share of the strongest on."""
DIM_BELOW = 72
"""Nodes whose strongest component is below this, of 255 after the gain, get a small letter."""
FLOOR = 110
"""The strongest component of a lit node is drawn no darker than this, of 255."""
FULL = 255
STEP = 17
"""Colours are drawn in 16 steps a component, so that the cells of one look share their styles."""
RED_AT, GREEN_AT, BLUE_AT, LETTER_AT = 0, 8, 16, 24
DIM_BIT = 8
LUMA = (0.2126, 0.7152, 0.0722)
"""ITU-R BT.709: weights of red, green and blue in luminance."""
LIGHT_ENOUGH = 70
"""From this luminance on, of 255, a cell takes black ink, else white."""
LOST = 0.99
"""How much of a step the engine may have rounded away."""


def brightest(nodes: "Bytes", per_cell: int) -> "Bytes":
    """Return (cells, 4): of every `per_cell` neighbours the brightest, so that a lit node never vanishes."""
    import numpy as np

    if per_cell == 1:
        return nodes
    cells = -(-len(nodes) // per_cell)
    padded = np.zeros((cells * per_cell, nodes.shape[1]), np.uint8)
    padded[: len(nodes)] = nodes
    grouped = padded.reshape(cells, per_cell, -1)
    chosen: Bytes = grouped[np.arange(cells), grouped.max(axis=2).argmax(axis=1)]
    return chosen


def rarest(nodes: "Bytes", per_cell: int) -> "Bytes":
    """Return (cells, 4): of every `per_cell` neighbours the one whose colour is rarest on the string.

    So a single node of another colour, or a dark one, never vanishes.
    """
    import numpy as np

    _, kind, counts = np.unique(nodes, axis=0, return_inverse=True, return_counts=True)
    often = counts[kind.reshape(-1)]
    cells = -(-len(nodes) // per_cell)
    # Beyond the end there is nothing to be chosen.
    padded = np.full(cells * per_cell, len(nodes) + 1)
    padded[: len(nodes)] = often
    chosen: Bytes = nodes[np.arange(cells) * per_cell + padded.reshape(cells, per_cell).argmin(axis=1)]
    return chosen


def beads_of(nodes: "Bytes", gain: float) -> "Ints":
    """Return (N,): what each node looks like, packed into a number that `bead` unpacks; 0 is dark."""
    import numpy as np

    raw = nodes.astype(np.float32)
    light = np.minimum((raw[:, :3] + raw[:, 3:]) * gain, FULL)
    strongest = light.max(axis=1)
    lit = strongest > 0
    safe = np.where(lit, strongest, 1)
    letters = ((light >= STRONG_SHARE * safe[:, None]) @ np.array([4, 2, 1])).astype(np.int32)
    letters += np.where(strongest < DIM_BELOW, DIM_BIT, 0).astype(np.int32)
    drawn = light * np.where(strongest < FLOOR, FLOOR / safe, 1)[:, None]
    colour = (np.round(drawn / STEP) * STEP).astype(np.int32)
    packed = (
        letters << LETTER_AT | colour[:, 2] << BLUE_AT | colour[:, 1] << GREEN_AT | colour[:, 0] << RED_AT
    )
    return np.where(lit, packed, 0).astype(np.int32)


@lru_cache(maxsize=8192)
def bead(packed: int) -> tuple[str, Style | None]:
    """Return a cell's character and style; a dark one has no style of its own."""
    if packed == 0:
        return UNLIT, None
    red, green, blue = (packed >> at & FULL for at in (RED_AT, GREEN_AT, BLUE_AT))
    letter = letter_of(packed)
    luma = sum(weight * value for weight, value in zip(LUMA, (red, green, blue), strict=True))
    ink = Color.from_rgb(0, 0, 0) if luma > LIGHT_ENOUGH else Color.from_rgb(FULL, FULL, FULL)
    return letter, Style(color=ink, bgcolor=Color.from_rgb(red, green, blue), bold=True)


def letter_of(packed: int) -> str:
    """Return the letter of a packed bead."""
    code = packed >> LETTER_AT
    letter = LETTERS[code % DIM_BIT]
    return letter.lower() if code >= DIM_BIT else letter


def colour_words(components: "Bytes", gain: float) -> str:
    """Return one node's colour by name and hex, at full level and as sent: "red #FF0000, sent as #4D0000"."""
    packed = int(beads_of(components.reshape(1, -1), gain)[0])
    if packed == 0:
        return "dark"
    letter = letter_of(packed)
    dim = "dim " if letter.islower() else ""
    sent = "".join(f"{int(each):02X}" for each in (components if components[-1] else components[:-1]))
    # The engine rounds down, so the part of a step that was lost is given back.
    full = "".join(
        f"{min(FULL, int((int(each) + LOST) * gain) if each else 0):02X}"
        for each in components[: len(sent) // 2]
    )
    return f"{dim}{COLOUR_NAMES[letter.upper()]} #{full}" + (f", sent as #{sent}" if sent != full else "")
