"""The verdict: what is the matter, where to go, what to check in order, and what else remains possible."""

from dataclasses import dataclass

from streamer.find.answers import Eyes
from streamer.find.finding import Finding, Possibility
from streamer.find.kinds import SAFETY, SETTINGS, TRADE, Kind
from streamer.find.rows import Row
from streamer.find.telling import Teller

CHECKS_MOST = 6
COUNTED = frozenset({Kind.FEWER, Kind.MORE})
UNCOLOURED = "Colours and their order were not looked at: search again with eyes for colours."
ALSO_MOST = 3
NOT_SURE = "not sure"
PERCENT = 100


@dataclass(frozen=True, slots=True)
class Remaining:
    """Something else that it may be."""

    sentence: str
    share: float
    """How likely; with `looks_the_same` it is in the verdict's own share."""
    looks_the_same: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a search has come to."""

    headline: str
    """The same in a word or two: "break 57/58"."""
    sentence: str
    row: Row
    certainty: float
    is_certain: bool
    """Whether it is as sure as was asked for."""
    checks: tuple[str, ...]
    """What to do, in order."""
    remains: tuple[Remaining, ...]

    @property
    def is_healthy(self) -> bool:
        """Whether nothing is the matter."""
        return self.row.kind is Kind.HEALTHY

    @property
    def counted_nodes(self) -> int | None:
        """How many nodes the display file should say, where it certainly says another number."""
        return self.row.hung if self.is_certain and self.row.kind in COUNTED else None


def verdict_of(finding: Finding) -> Verdict:
    """Return what the answers so far come to; ask it any time."""
    thinking = finding.bench.thinking
    teller = Teller(thinking)
    likeliest, *others = finding.possibilities()
    same = [Remaining(teller.sentence(row), likeliest.share, True) for row in likeliest.also[:ALSO_MOST]]
    return Verdict(
        teller.headline(likeliest.row) if finding.is_certain else NOT_SURE,
        teller.sentence(likeliest.row),
        likeliest.row,
        finding.certainty,
        finding.is_certain,
        _checks(teller, likeliest, finding.bench.terms.eyes),
        (*same, *(Remaining(teller.sentence(each.row), each.share) for each in others)),
    )


def _checks(teller: Teller, likeliest: Possibility, eyes: Eyes) -> tuple[str, ...]:
    kinds = dict.fromkeys(part.kind for part in teller.parts(likeliest.row))
    checks = [check for kind in kinds for check in TRADE[kind].checks]
    if Kind.HEALTHY in kinds:
        return (*checks, *([] if eyes.in_colour else [UNCOLOURED]))
    safety = () if kinds.keys() <= SETTINGS else (SAFETY,)
    return (*safety, *checks[:CHECKS_MOST])


def certainty_text(share: float) -> str:
    """Return "97 %"; never 100, since any answer may be wrong."""
    return f"{min(int(share * PERCENT), PERCENT - 1)} %" if share < 1 else "as sure as the answers are"
