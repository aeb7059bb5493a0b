"""All hypotheses for one port as columns of numbers: a look is weighed against all of them at once."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from patterns.plain import Bytes
from streamer.display.slots import Indices

PLANNED, BELOW, ABOVE, SWAPPED = range(4)
"""How the string beside is driven: as planned, one universe too low, too high, by our port."""


@dataclass(frozen=True, eq=False)
class Columns:
    """H hypotheses over B wirings, of strings of up to M lights; (H,) unless said otherwise."""

    taken: Indices
    """(4, B, M): where on the canvas each light takes each of its colours from."""
    witness_taken: Indices
    """(4, 4, L): the same for the string beside it: as planned, BELOW, ABOVE, SWAPPED."""
    source_taken: Indices
    """(4, S, M): the same for this string on all that may feed it: plan, universes beside, other ports."""
    wiring: Indices
    source: Indices
    """Which of the S feeds it."""
    reach: Indices
    hung: Indices
    is_flipped: NDArray[np.bool_]
    at: Indices
    """-1 where no light is odd."""
    keep: Bytes
    add: Bytes
    unsteady_from: Indices
    """M for a steady string."""
    witness: Indices

    def __len__(self) -> int:
        return len(self.wiring)

    @property
    def lights(self) -> int:
        """Return M."""
        return int(self.taken.shape[2])

    @cached_property
    def start(self) -> Indices:
        """Where a hypothesis's wiring begins in a flat table of (B, M)."""
        return self.wiring * self.lights

    @cached_property
    def start_of_gaps(self) -> Indices:
        """Where it begins in a flat table of (B, M + 1): the gaps before, between and after the lights."""
        return self.wiring * (self.lights + 1)

    @cached_property
    def head(self) -> Indices:
        """The light that people count as the first, as the data runs."""
        return np.where(self.is_flipped, self.hung - 1, 0)

    @cached_property
    def tail(self) -> Indices:
        """The light that people count as the last, as the data runs."""
        return np.where(self.is_flipped, 0, self.hung - 1)

    @cached_property
    def odd(self) -> Indices:
        """Which hypotheses have a light that is not as the others, (K,)."""
        return np.flatnonzero(self.at >= 0)

    @cached_property
    def unsteady(self) -> Indices:
        """Which hypotheses have lights that flicker; none of them has an odd light as well."""
        return np.flatnonzero(self.unsteady_from < self.lights)

    def only(self, chosen: Indices) -> "Columns":
        """Return the columns of some hypotheses, and of no more wirings than they need."""
        used, wiring = np.unique(self.wiring[chosen], return_inverse=True)
        return Columns(
            self.taken[:, used],
            self.witness_taken,
            self.source_taken,
            wiring,
            self.source[chosen],
            self.reach[chosen],
            self.hung[chosen],
            self.is_flipped[chosen],
            self.at[chosen],
            self.keep[chosen],
            self.add[chosen],
            self.unsteady_from[chosen],
            self.witness[chosen],
        )
