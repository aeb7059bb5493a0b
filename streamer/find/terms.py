"""How a search goes about it: who looks, how often they are wrong, and what is thought of."""

from dataclasses import dataclass

from streamer.errors import PlanError, Problem
from streamer.find.answers import SIX, Eyes
from streamer.find.kinds import Kind
from streamer.find.rows import ALL_KINDS

ERROR_RATE = 0.05
CERTAINTY = 0.99


@dataclass(frozen=True, slots=True)
class Terms:
    """How the search goes about it."""

    eyes: Eyes = SIX
    error_rate: float = ERROR_RATE
    """How often an answer is wrong; 0 takes every answer for the truth."""
    certainty: float = CERTAINTY
    """It stops when it is this sure."""
    suspects: frozenset[Kind] = ALL_KINDS
    """What is thought of, besides that all is well."""
    even: bool = False
    """Everything is equally likely at first."""

    def __post_init__(self) -> None:
        """Raise PlanError for what cannot be."""
        wrong = []
        if not 0 <= self.error_rate < 1 / 2:
            wrong.append(Problem("wrong answers", f"{self.error_rate} of them is too many", "Use 0 to 0.49"))
        if not 1 / 2 <= self.certainty < 1:
            wrong.append(Problem("certainty", f"{self.certainty} cannot be reached", "Use 0.5 to 0.999"))
        if wrong:
            raise PlanError(wrong)
