"""Many searches for drawn faults, and what became of them."""

import math
import random
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from streamer.display.model import Display
from streamer.find.finding import Bench, Finding
from streamer.find.hypotheses import Table
from streamer.find.kinds import Kind
from streamer.find.terms import Terms
from tests.find.closed_loop import Lawn, search
from tests.find.displays import drawn_display
from tests.find.draws import draw, faults_of, ports_of

COLOURS = 6
"""That the blocks of a look have: the alphabet of an answer."""
PER_DISPLAY = 20


@dataclass
class Tally:
    """Searches for faults of one kind."""

    draws: int = 0
    right: int = 0
    looks: int = 0
    bound: float = 0.0
    """Sum of log2(hypotheses) / log2(colours), the information bound (Shannon 1948)."""


@dataclass
class Trial:
    """What became of many searches."""

    kinds: dict[Kind, Tally] = field(default_factory=lambda: defaultdict(Tally))
    verdicts: list[tuple[float, bool]] = field(default_factory=list)
    """How sure each was, and whether it was right."""
    failures: list[str] = field(default_factory=list)

    @property
    def share_right(self) -> float:
        """Of all draws."""
        return sum(is_right for _, is_right in self.verdicts) / len(self.verdicts)

    def note(self, bench: Bench, row: int, finding: Finding) -> None:
        """Take note of a search for a hypothesis."""
        truth, named = bench.table.rows[row], finding.possibilities()[0].row
        tally = self.kinds[truth.kind]
        tally.draws += 1
        tally.right += named == truth
        tally.looks += len(finding.steps)
        tally.bound += math.log2(len(bench.table)) / math.log2(COLOURS)
        self.verdicts.append((finding.certainty, named == truth))
        if named != truth:
            self.failures.append(f"{bench.thinking.port.name}: {truth} was taken for {named}")

    def add(self, other: "Trial") -> None:
        """Take over what another trial found."""
        for kind, tally in other.kinds.items():
            mine = self.kinds[kind]
            mine.draws, mine.right = mine.draws + tally.draws, mine.right + tally.right
            mine.looks, mine.bound = mine.looks + tally.looks, mine.bound + tally.bound
        self.verdicts += other.verdicts
        self.failures += other.failures

    def table(self) -> str:
        """Return a line for each kind: draws, right, mean looks, the bound, and their ratio."""
        lines = [f"{'kind':20} draws  right  looks  bound  ratio"]
        for kind, tally in sorted(self.kinds.items()):
            looks, bound = tally.looks / tally.draws, tally.bound / tally.draws
            share = tally.right / tally.draws
            lines.append(
                f"{kind:20} {tally.draws:5} {share:6.1%} {looks:6.2f} {bound:6.2f} {looks / bound:6.2f}"
            )
        looks = sum(tally.looks for tally in self.kinds.values()) / len(self.verdicts)
        lines.append(f"{'all':20} {len(self.verdicts):5} {self.share_right:6.1%} {looks:6.2f}")
        return "\n".join(lines)

    def calibration(self) -> str:
        """Return a line for each band of certainty: verdicts, how sure on average, how many right."""
        lines = ["sure           verdicts  said   right"]
        for low, high in ((0, 0.5), (0.5, 0.9), (0.9, 0.99), (0.99, 0.999), (0.999, 1.01)):
            mine = [(sure, right) for sure, right in self.verdicts if low <= sure < high]
            if mine:
                said = sum(sure for sure, _ in mine) / len(mine)
                right = sum(right for _, right in mine) / len(mine)
                lines.append(f"{low:5.3f} to {min(high, 1):5.3f} {len(mine):8} {said:6.1%} {right:6.1%}")
        return "\n".join(lines)


def trial(
    draws: int,
    seed: int,
    wrong: float = 0.0,
    terms: Terms | None = None,
    drawn: Callable[[Table, random.Random], int] = draw,
) -> Trial:
    """Search for so many faults on drawn displays, drawn so; this share of the answers is wrong."""
    found, chance = Trial(), random.Random(seed)  # noqa: S311
    for display, bench in _benches(chance, draws, terms):
        row = drawn(bench.table, chance)
        lawn = Lawn(display, bench, faults_of(bench, bench.table.rows[row]))
        found.note(bench, row, search(lawn, wrong, chance))
    return found


def _benches(chance: random.Random, draws: int, terms: Terms | None) -> Iterator[tuple[Display, Bench]]:
    for number in range(draws):
        if number % PER_DISPLAY == 0:
            display = drawn_display(chance)
            bench = Bench(display, chance.choice(ports_of(display)), terms)
        yield display, bench
