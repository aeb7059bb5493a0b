"""What a walk is made of: a look that is put up, the question about it, and its answers. Plain values."""

from dataclasses import dataclass
from enum import StrEnum

from patterns.plain import Params
from streamer.engine.messages import Show
from streamer.logbook.records import Fingerprint, Subject


@dataclass(frozen=True, slots=True)
class Look:
    """A picture to put up, and to hold: a pattern at one of its steps."""

    pattern: str
    params: Params
    step: int
    """From 0."""
    ports: tuple[str, ...] | None
    """Only these strings are lit; None is whatever the pattern lights."""

    def show(self, level_percent: float) -> Show:
        """Return what to ask an engine for; it is held at `step` then."""
        return Show(
            pattern=self.pattern,
            params=dict(self.params),
            pace=0.0,
            ports=self.ports,
            level_percent=level_percent,
        )


class Outcome(StrEnum):
    """What an answer says of the string or fixture that is asked about."""

    RIGHT = "right"
    """Go on with its next look."""
    REMARK = "remark"
    """It is right itself, but something else is not. Go on."""
    FAULT = "fault"
    """It is at fault; there is no use in further looks."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the answers: the key to press, and what it says."""

    key: str
    text: str
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Check:
    """One look and its question."""

    subject: Subject
    label: str
    name: str
    """Unique for the subject, and what the logbook calls it: "order"."""
    look: Look
    question: str
    answers: tuple[Answer, ...]

    def answer(self, key: str) -> Answer | None:
        """Return the answer of a key; None where there is none."""
        return next((each for each in self.answers if each.key == key), None)


@dataclass(frozen=True, slots=True)
class Course:
    """One string or fixture, with all its looks in order."""

    subject: Subject
    label: str
    fingerprint: Fingerprint
    checks: tuple[Check, ...]


def answers(right: str, *wrong: str, remark: str = "") -> tuple[Answer, ...]:
    """Return answers with keys from 1: what is right, what is right with a remark, and what is wrong."""
    said = [(right, Outcome.RIGHT)]
    if remark:
        said.append((remark, Outcome.REMARK))
    said += [(text, Outcome.FAULT) for text in wrong]
    return tuple(Answer(str(key), text, outcome) for key, (text, outcome) in enumerate(said, start=1))
