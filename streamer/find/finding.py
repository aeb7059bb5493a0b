"""A search for what is the matter with one port: looks, answers, how sure it is, and the verdict.

It reads no clock and sends nothing: whoever asks puts up `look`, and gives back the answer.
"""

from dataclasses import dataclass, field

import numpy as np

from streamer.display.model import Display
from streamer.display.slots import Indices
from streamer.errors import PlanError, Problem
from streamer.find.answers import YES, Answer
from streamer.find.belief import posterior
from streamer.find.choice import Asked, Chooser, Weighed
from streamer.find.confirming import Confirmation, confirmation
from streamer.find.hypotheses import make_table
from streamer.find.look import Look
from streamer.find.picture import Painter
from streamer.find.questions import Choice, choices_of
from streamer.find.rows import Row, Thinking
from streamer.find.shares import Shares
from streamer.find.terms import Terms
from streamer.find.wiring import Wiring, slots_taken

ALIKE_DIGITS = 9
LEAST_BITS = 0.005
"""When no look is expected to tell more than this, what is left cannot be told apart by looking."""
WORTH_CONFIRMING = 0.8
"""Before it is so sure, another look is worth more than a yes or no, even if no answer is ever wrong."""
LOOKS_MAX = 30
"""More than this nobody answers; what is known by then is said."""


@dataclass(frozen=True, slots=True)
class Step:
    """A look that was answered."""

    look: Look
    answer: Answer
    likelihood: Shares | None
    """None when one could not tell."""
    bits: float
    """What it was expected to tell."""


@dataclass(frozen=True, slots=True)
class Possibility:
    """What may be the matter, and how likely that is."""

    row: Row
    also: tuple[Row, ...]
    """What looks the same whatever is shown."""
    share: float


class Bench:
    """All that stays the same in every search on one port with the same terms: make it once, search often.

    Raises PlanError where the display has no such port.
    """

    def __init__(self, display: Display, port: str, terms: Terms | None = None) -> None:
        self.terms = terms or Terms()
        self.thinking = Thinking(
            display, port, self.terms.suspects, even=self.terms.even, in_colour=self.terms.eyes.in_colour
        )
        self.table = make_table(self.thinking, self.terms.eyes)
        own = self.thinking.controller, self.thinking.port
        planned = slots_taken(self.thinking.canvas, own, own[1], Wiring(longer=True), self.thinking.lights)
        self.painter = Painter(self.thinking.canvas.size, planned)
        self.chooser = Chooser(
            self.painter,
            self.terms.eyes,
            own[1].nodes,
            self.table.columns,
            planned_reversed=own[1].reversed,
            has_white="W" in own[1].colour_order,
            has_witness=self.thinking.witness is not None,
            error_rate=self.terms.error_rate,
        )
        self.known: dict[tuple[tuple[bytes, int], ...], tuple[Look | None, float]] = {}
        """Looks that were chosen before, by what was answered until then."""

    @property
    def canvas(self) -> Display:
        """The display to play the pattern `picture` on; its nodes are slots, not the string's nodes."""
        return self.thinking.canvas.display


@dataclass(slots=True)
class Finding:
    """One search. `look` is what to put up now; None when it is over, and `verdict_of` tells the rest."""

    bench: Bench
    steps: list[Step] = field(default_factory=list)
    look: Look | None = None
    bits: float = 0.0
    """What the answer to `look` is expected to tell."""
    shares: Shares = field(default_factory=lambda: np.zeros(0))
    """How likely each hypothesis of the table is, by the mean of all views of how often kinds are met."""
    at_least: Shares = field(default_factory=lambda: np.zeros(0))
    """How likely each is at the least, whichever view is taken; a share of over a half leads by all views."""
    doubtful: Shares = field(default_factory=lambda: np.zeros(0))
    """How likely each is by the view that has most doubts about the likeliest."""

    def __post_init__(self) -> None:
        """Choose the first look."""
        self._go_on()

    @property
    def nodes(self) -> str:
        """The `nodes` of the pattern `picture` that put the look up on the bench's canvas; dark when over."""
        return self.bench.thinking.canvas.told(self.look.picture.slots) if self.look else ""

    @property
    def choices(self) -> tuple[Choice, ...]:
        """What can be answered now."""
        return choices_of(self.look.asks, self.bench.terms.eyes) if self.look else ()

    def answer(self, answer: int) -> None:
        """Take an answer; PlanError, and nothing changes, for one that cannot be given now."""
        if self.look is None:
            raise PlanError([Problem("answer", "the search is over", "Undo an answer, or start again")])
        if answer not in [choice.answer for choice in self.choices]:
            keys = ", ".join(str(int(choice.answer)) for choice in self.choices)
            raise PlanError([Problem("answer", f"{answer!r} is none of the answers", f"Give one of {keys}")])
        given = Answer(answer)
        likelihood = (
            None
            if given is Answer.CANT_TELL
            else self.bench.chooser.likelihood(self.look, given, self.bench.table.columns)
        )
        self.steps.append(Step(self.look, given, likelihood, self.bits))
        self._go_on()

    def undo(self) -> bool:
        """Take back the last answer; False when there is none."""
        if not self.steps:
            return False
        step = self.steps.pop()
        self._weigh()
        self.look, self.bits = step.look, step.bits
        return True

    @property
    def leader(self) -> int:
        """Which hypothesis is the likeliest."""
        return int(self._order[0])

    @property
    def _order(self) -> Indices:
        """Return all hypotheses, the likeliest first; of those that are alike at the least, by the mean."""
        return np.lexsort((-self.shares, -self.at_least.round(ALIKE_DIGITS)))

    @property
    def certainty(self) -> float:
        """How likely the likeliest is at the least, whatever view is taken of how often kinds are met."""
        return float(self.at_least[self.leader])

    @property
    def is_certain(self) -> bool:
        """Whether it is as sure as was asked for."""
        return self.certainty >= self.bench.terms.certainty

    @property
    def progress(self) -> float:
        """How much of what was not known at first is known, from 0 to 1."""
        at_first = _bits(self.bench.table.prior)
        return 1.0 if self.look is None else max(0.0, min(1.0, 1 - _bits(self.shares) / max(at_first, 1e-9)))

    def possibilities(self, least: float = 0.01, most: int = 5) -> tuple[Possibility, ...]:
        """Return the likeliest hypotheses, first the first, those under `least` left out."""
        table = self.bench.table
        order = self._order[:most].tolist()
        return tuple(
            Possibility(table.rows[row], table.also[row], float(self.at_least[row]))
            for row in order
            if row == order[0] or self.at_least[row] >= least
        )

    def _weigh(self) -> None:
        likelihoods = [step.likelihood for step in self.steps if step.likelihood is not None]
        table = self.bench.table
        self.shares = posterior(table.prior, likelihoods)
        views = [posterior(each, likelihoods) for each in table.views]
        self.at_least = np.min(views, axis=0)
        self.doubtful = min(views, key=lambda each: float(each[self.leader]))

    def _go_on(self) -> None:
        self._weigh()
        path = tuple((b"".join(map(_octets, step.look.name)), int(step.answer)) for step in self.steps)
        if path not in self.bench.known:
            self.bench.known[path] = self._next()
        self.look, self.bits = self.bench.known[path]

    def _next(self) -> tuple[Look | None, float]:
        if len(self.steps) >= LOOKS_MAX or self._is_confirmed:
            return None, 0.0
        bench, asked = self.bench, self._asked
        is_worth = self.certainty >= WORTH_CONFIRMING
        confirm = self._confirmation(asked) if is_worth else None
        if confirm and confirm.if_yes >= bench.terms.certainty:
            return confirm.look, confirm.bits
        best: Weighed | None = bench.chooser.best(self.shares, asked)
        if confirm and best and confirm.bits > best.worth:
            return confirm.look, confirm.bits
        if best and best.bits >= LEAST_BITS:
            return best.look, best.bits
        # Some things, such as lights that act in groups, only show in the whole picture.
        confirm = confirm or self._confirmation(asked)
        if confirm and (confirm.bits >= LEAST_BITS or not self._has_yes):
            return confirm.look, confirm.bits
        return None, 0.0

    def _confirmation(self, asked: Asked) -> Confirmation | None:
        """Return the look that confirms the likeliest best; dear where much is possible."""
        columns = self.bench.table.columns
        return confirmation(self.bench.chooser, columns, self.doubtful, self.leader, asked)

    @property
    def _asked(self) -> Asked:
        asked = Asked()
        for step in self.steps:
            asked.looks.add(step.look.name)
            asked.untold[step.look.asks] += step.answer is Answer.CANT_TELL
        return asked

    @property
    def _has_yes(self) -> bool:
        """Whether the last look said that everything looks as it would."""
        return bool(self.steps) and self.steps[-1].look.is_confirmation and self.steps[-1].answer == YES

    @property
    def _is_confirmed(self) -> bool:
        return self.is_certain and self._has_yes


def _octets(part: object) -> bytes:
    return part if isinstance(part, bytes) else str(part).encode()


def _bits(shares: Shares) -> float:
    shares = shares[shares > 0]
    return float(-(shares * np.log2(shares)).sum())
