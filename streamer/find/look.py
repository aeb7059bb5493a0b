"""A look: one picture, one question about it, and the answers that can be given."""

from dataclasses import dataclass

from patterns.plain import Bytes
from streamer.find.picture import FINE, Picture
from streamer.find.questions import EFFORT, Asks

FINE_EFFORT = 0.3
ELSEWHERE_EFFORT = 0.1
BUSY_WORTH = 0.6
"""A jumble of colours is put up only if it tells much more than blocks would."""

SEARCHED_WORTH = 0.85
"""A string is searched node by node for one that stands out only if that tells more than a look at an end."""


@dataclass(frozen=True, eq=False, slots=True)
class Look:
    """What is put up and asked. `expected` (M,) is what MATCH asks for, as answers in hanging order."""

    picture: Picture
    asks: Asks
    expected: Bytes | None = None

    @property
    def name(self) -> tuple[bytes, Asks, bytes]:
        """What tells two looks apart."""
        return self.picture.name, self.asks, b"" if self.expected is None else self.expected.tobytes()

    @property
    def effort(self) -> float:
        """How hard it is to answer."""
        fine = FINE_EFFORT if self.picture.finest < FINE else 0.0
        elsewhere = ELSEWHERE_EFFORT if self.picture.elsewhere else 0.0
        return EFFORT[self.asks] + fine + elsewhere

    def worth(self, bits: float) -> float:
        """Return what so many bits are worth if a person has to see them from afar."""
        searched = SEARCHED_WORTH if self.asks is Asks.BESIDE else 1.0
        return bits * searched * (BUSY_WORTH if self.picture.is_busy else 1.0)

    @property
    def is_confirmation(self) -> bool:
        """Whether it only asks if everything looks as said."""
        return self.asks is Asks.MATCH
