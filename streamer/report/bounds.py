"""What k failures in T hours prove: the highest rate of failures that would still let so few be seen.

Failures are taken to come at random at a steady rate (a homogeneous Poisson process), and the time to have
been fixed beforehand. The bound is then chi-squared(confidence, 2k + 2) / 2T: NIST/SEMATECH e-Handbook of
Statistical Methods, 8.4.5.1. The rule of three, 3/T for k = 0 at 95 %, is its shorthand (Hanley and
Lippman-Hand, JAMA 1983).
"""

import math
from dataclasses import dataclass

CONFIDENCE = 0.95
RULE_OF = 3.0
"""-ln(0.05) is 2.996."""


@dataclass(frozen=True, slots=True)
class Bound:
    """How often it may fail at the most, given what was seen."""

    failures: int
    hours: float
    """That were watched."""
    confidence: float
    per_hour: float
    """The exact upper bound; infinite where nothing was watched."""
    rule_of_three_per_hour: float | None
    """The shorthand; None where there were failures, of which it says nothing."""

    @property
    def hours_between(self) -> float:
        """The lower bound on the mean time between failures; 0 where nothing was watched."""
        return 1 / self.per_hour

    def chance_of_failure(self, hours: float) -> float:
        """Return the chance of at least one failure within so many hours, at that rate."""
        return -math.expm1(-self.per_hour * hours)


def bound(failures: int, hours: float, confidence: float = CONFIDENCE) -> Bound:
    """Return what so many failures in so many hours prove."""
    three = None if failures or not hours else RULE_OF / hours
    per_hour = _expected(failures, confidence) / hours if hours else math.inf
    return Bound(failures, hours, confidence, per_hour, three)


def hours_needed(hours_between: float, confidence: float = CONFIDENCE) -> float:
    """Return for how long no failure must be seen, to prove that many hours between failures."""
    return hours_between * _expected(0, confidence)


def _expected(failures: int, confidence: float) -> float:
    """Return how many must be expected, for so few failures to be no likelier than 1 - confidence."""
    # `scipy.stats.chi2` has the same, and takes a second longer to load.
    from scipy.special import chdtri

    return float(chdtri(2 * failures + 2, 1 - confidence)) / 2
