"""Which look tells the most: its answer's expected information, over all that is still possible."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import ANSWERS, Answer, Eyes
from streamer.find.belief import informations, likelihood
from streamer.find.columns import Columns
from streamer.find.look import Look
from streamer.find.picture import Painter, Picture
from streamer.find.questions import Asks, answers_to
from streamer.find.shares import Shares, added_up
from streamer.find.sight import Sight
from streamer.find.sources import source_pictures, witness_pictures
from streamer.find.splits import Splits
from streamer.find.still import still_pictures

FORGOTTEN = 1e-9
"""What is less likely than this does not take part in choosing; it may still come back."""
NEARLY = 0.88
"""Looks that tell nearly as much as the best are chosen by how easy they are."""
EASE_BITS = 0.5
"""A look that is harder by 1 has to tell so many bits more."""
SCARCE_BITS = 0.1
"""Where no look tells more than this, single places are looked at as well."""
PATIENCE = 2
"""A kind of question that could not be answered so often is not asked again."""
WHOLE_ASKS = (Asks.BESIDE, Asks.FLICKER, Asks.REST)
ENDS_ASKS = (Asks.FIRST, Asks.LAST, Asks.HEAD, Asks.TAIL)


@dataclass(slots=True)
class Asked:
    """What has been asked, so that nobody is asked the same twice."""

    looks: set[tuple[bytes, Asks, bytes]] = field(default_factory=set)
    untold: Counter[Asks] = field(default_factory=Counter)

    def allows(self, look: Look) -> bool:
        """Say whether a look is new, and of a kind that could be answered."""
        return look.name not in self.looks and self.untold[look.asks] < PATIENCE


@dataclass(frozen=True, slots=True)
class Weighed:
    """A look and what its answer is expected to tell."""

    look: Look
    bits: float

    @property
    def worth(self) -> float:
        """The same, less for what is hard to see from afar."""
        return self.look.worth(self.bits)


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A picture, what may be asked about it, and what is answered under each hypothesis, (A, H)."""

    picture: Picture
    asks: tuple[Asks, ...]
    answers: Bytes


class Chooser:
    """Chooses the looks for one string, of which these hypotheses are thought."""

    def __init__(  # noqa: PLR0913  what a string, its eyes and its answers are
        self,
        painter: Painter,
        eyes: Eyes,
        nodes: int,
        columns: Columns,
        *,
        planned_reversed: bool,
        has_white: bool,
        has_witness: bool,
        error_rate: float,
    ) -> None:
        self.painter, self._eyes, self._columns = painter, eyes, columns
        self._planned_reversed = planned_reversed
        self.error_rate = error_rate
        self._splits = Splits(painter, eyes, nodes)
        self._always = still_pictures(painter, eyes, nodes, has_white=has_white)
        if has_witness:
            self._always += witness_pictures(painter, eyes, columns)
        self._foreseen = [self._foresee(picture, columns) for picture in self._always]
        """Of the pictures that are always there to choose from: worked out once, and never again."""

    def sight(self, picture: Picture, columns: Columns) -> Sight:
        """Return a picture as it is seen under each hypothesis."""
        return Sight(
            columns, self._eyes, picture.slots, picture.sent, planned_reversed=self._planned_reversed
        )

    def predicted(self, look: Look, columns: Columns) -> Bytes:
        """Return the answer to a look under each hypothesis, (H,)."""
        sight = self.sight(look.picture, columns)
        return sight.answers(look.asks) if look.expected is None else sight.matches(look.expected)

    def choices(self, asks: Asks) -> int:
        """Return how many answers a question has."""
        return len(answers_to(asks, self._eyes))

    def likelihood(self, look: Look, answer: Answer, columns: Columns) -> Shares:
        """Return how likely an answer is under each hypothesis, (H,)."""
        return likelihood(self.predicted(look, columns), answer, self.error_rate, self.choices(look.asks))

    def best(self, shares: Shares, asked: Asked) -> Weighed | None:
        """Return the look that tells the most; None when no look tells anything."""
        kept = np.flatnonzero(shares > FORGOTTEN * shares.max())
        thin, thin_shares = self._columns.only(kept), shares[kept] / shares[kept].sum()
        made = [self._foresee(each, thin) for each in self._made(thin, thin_shares)]
        found = self._weighed([*self._of(kept), *made], thin_shares, asked)
        if max((each.bits for each in found), default=0.0) < SCARCE_BITS:
            close_ups = self._splits.close_ups(thin, thin_shares)
            found += self._weighed([self._foresee(each, thin) for each in close_ups], thin_shares, asked)
        if not found:
            return None
        most = max(each.worth for each in found)
        near = [each for each in found if each.worth >= NEARLY * most]
        return max(near, key=lambda each: each.worth - EASE_BITS * each.look.effort)

    def _foresee(self, picture: Picture, columns: Columns) -> Foreseen:
        asks, sight = tuple(asks_of(picture)), self.sight(picture, columns)
        return Foreseen(picture, asks, np.array([sight.answers(each) for each in asks]))

    def _of(self, kept: Indices) -> Iterator[Foreseen]:
        """Yield what is foreseen for some hypotheses."""
        for each in self._foreseen:
            yield replace(each, answers=each.answers[:, kept])

    def _weighed(self, foreseen: Iterable[Foreseen], shares: Shares, asked: Asked) -> list[Weighed]:
        looks, masses = [], []
        for each in foreseen:
            for asks, answers in zip(each.asks, each.answers, strict=True):
                look = Look(each.picture, asks)
                if asked.allows(look):
                    looks.append(look)
                    masses.append(added_up(answers, shares, ANSWERS))
        if not looks:
            return []
        choices = np.array([self.choices(look.asks) for look in looks])
        bits = informations(np.array(masses), self.error_rate, choices)
        return [Weighed(look, each) for look, each in zip(looks, bits.tolist(), strict=True)]

    def pictures(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield the pictures to choose from, for hypotheses with these shares, (H,)."""
        yield from self._always
        yield from self._made(columns, shares)

    def _made(self, columns: Columns, shares: Shares) -> Iterator[Picture]:
        """Yield those that are made for what is still possible."""
        yield from self._splits.pictures(columns, shares)
        yield from source_pictures(self.painter, self._eyes, columns, shares)


def asks_of(picture: Picture) -> Iterator[Asks]:
    """Yield what can be asked about a picture."""
    if picture.is_beside:
        yield Asks.WITNESS
        return
    yield from ENDS_ASKS
    if picture.is_whole:
        yield from WHOLE_ASKS
