"""Whether a string would look exactly as said, under every hypothesis at once.

Lights that are not as said are summed along each wiring once; a hypothesis is then a few differences of sums.
"""

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import Answer
from streamer.find.columns import Columns

NONE, UNSTEADY = np.uint8(Answer.NONE), np.uint8(Answer.UNSTEADY)
FROM_THE_FRONT = -1
"""For strings fed at light 1 it is the same wherever they end."""


def matches(columns: Columns, seen: Bytes, odd: Bytes, expected: Bytes) -> NDArray[np.bool_]:
    """Return for each hypothesis whether every light is as expected, (H,).

    `seen` (B, M) is what wirings show without an odd light, `odd` (K,) what odd lights show, as answers;
    `expected` (M,) counts as people do.
    """
    wiring, said, group = _lined_up(columns, expected)
    shown = seen[wiring]
    reach, begin = columns.reach, np.minimum(columns.unsteady_from, columns.reach)
    steady, dark = _summed(shown != said), _summed(said != NONE)
    wrong = steady[group, begin] + dark[group, -1] - dark[group, reach]
    if len(columns.unsteady):
        unsteady = _summed(np.where(shown != NONE, UNSTEADY, NONE) != said)
        wrong += unsteady[group, reach] - unsteady[group, begin]
    # Instead of what its wiring shows there, or of the dark beyond a break, the odd light shows itself.
    mine, at = group[columns.odd], columns.at[columns.odd]
    usual = np.where(at < reach[columns.odd], shown[mine, at], NONE)
    wrong[columns.odd] += (odd != said[mine, at]).astype(np.int32) - (usual != said[mine, at])
    past_the_end = _summed((expected != NONE)[None])[0]
    wrong += np.where(columns.is_flipped, past_the_end[-1] - past_the_end[columns.hung], 0)
    return np.asarray(wrong == 0)


def _lined_up(columns: Columns, expected: Bytes) -> tuple[Indices, Bytes, Indices]:
    """Return G groups: wiring (G,), what is expected as the data runs (G, M); and whose is which, (H,).

    A string fed at its last light is turned about its end, so each length of it is a group of its own.
    """
    lights = columns.lights
    length = np.where(columns.is_flipped, columns.hung, FROM_THE_FRONT)
    keys, group = np.unique(columns.wiring * (lights + 2) + length + 1, return_inverse=True)
    wiring, length = keys // (lights + 2), keys % (lights + 2) - 1
    place = np.arange(lights)
    turned = length[:, None] - 1 - place
    place = np.where(length[:, None] == FROM_THE_FRONT, place, turned)
    said = np.where(place >= 0, expected.take(place, mode="clip"), NONE)
    return wiring, said, group


def _summed(flags: NDArray[np.bool_]) -> Indices:
    """Return (G, M + 1): how many flags are up before each place."""
    found = np.zeros((len(flags), flags.shape[1] + 1), np.int32)
    np.cumsum(flags, axis=1, out=found[:, 1:])
    return found
