"""What the asking sheet needs of a guided session: looks to put up, questions, answers, an outcome."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from streamer.engine.messages import Setup, Show

if TYPE_CHECKING:
    from patterns.plain import Bytes


@dataclass(frozen=True, slots=True)
class Look:
    """What is to be put up: a show on a setup, held at a step (from 0)."""

    setup: Setup
    show: Show
    step: int = 0


@dataclass(frozen=True, slots=True)
class Page:
    """All that the sheet shows at one moment."""

    place: str
    """Where one is: "Look 3"."""
    done: float
    """How much is done, from 0 to 1."""
    told: str
    """What is sent now, in words."""
    question: str
    answers: tuple[tuple[str, str], ...]
    """Key and words of each; none when it is over."""
    sure: float | None = None
    """How sure it is, from 0 to 1."""
    certainty: str = ""
    """The same in words."""
    possible: tuple[str, ...] = ()
    """The likeliest possibilities, or what there is to say beside the question."""
    outcome: tuple[str, ...] = ()
    """Paragraphs, the first the sentence that matters; only when it is over."""
    watched: tuple[str, ...] = ()
    """The ports that the question is about, the string asked about first."""
    headline: str = ""
    """What to look at, or what it has come to, in a word or two to be read at arm's length."""
    lights: "Mapping[str, Bytes]" = field(default_factory=dict)
    """Of answers that are a colour: by their keys what a light of it is sent, (4,)."""
    title: str = ""
    """What the sheet is headed with; "" for what it had."""


class Session(Protocol):
    """One guided session. RopewalkError from any of these has changed nothing."""

    @property
    def look(self) -> Look | None:
        """What is to be put up now; None when it is over."""

    @property
    def page(self) -> Page:
        """What is to be shown now."""

    @property
    def cells(self) -> "Bytes | None":
        """(N, 4): what each node is sent, where one string is looked at; None otherwise."""

    @property
    def why(self) -> tuple[str, ...]:
        """The reasons, as lines."""

    def answer(self, key: str) -> None:
        """Take an answer."""

    def skip(self) -> bool:
        """Pass over what is asked about; False where that cannot be."""

    def undo(self) -> bool:
        """Take back the last step; False where there is none."""

    def close(self) -> None:
        """Let go of files."""
