"""The questions: each is about one thing that can be seen from afar, and has a handful of answers."""

from dataclasses import dataclass
from enum import StrEnum

from streamer.find.answers import NO, YES, Answer, Eyes


class Asks(StrEnum):
    """What a question is about. People count a string's lights from light 1, wherever it is fed."""

    FIRST = "first"
    """The colour of the first lit light."""
    LAST = "last"
    """The colour of the last lit light."""
    HEAD = "head"
    """The colour of light 1."""
    TAIL = "tail"
    """The colour of the last light that hangs there."""
    BESIDE = "beside"
    """The colour of the light before the only one that stands out from those beside it."""
    FLICKER = "flicker"
    """The colour of the flickering light nearest to where the plan feeds the string."""
    REST = "rest"
    """Whether more lights hang, unlit, beyond the last lit one as the planned data runs."""
    WITNESS = "witness"
    """The colour of the first lit light of the string beside."""
    MATCH = "match"
    """Whether the string looks exactly as said."""


EFFORT = {
    Asks.MATCH: 0.0,
    Asks.HEAD: 0.1,
    Asks.FIRST: 0.15,
    Asks.LAST: 0.2,
    Asks.TAIL: 0.25,
    Asks.WITNESS: 0.6,
    Asks.REST: 0.7,
    Asks.FLICKER: 0.7,
    Asks.BESIDE: 0.8,
}
"""How hard each is to answer, from 0 to 1 (common practice, no source)."""

YES_OR_NO = frozenset({Asks.REST, Asks.MATCH})


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be given: the key's number, and its words."""

    answer: Answer
    words: str


NONE_WORDS = {
    Asks.FIRST: "nothing is lit",
    Asks.LAST: "nothing is lit",
    Asks.HEAD: "it is dark",
    Asks.TAIL: "it is dark",
    Asks.BESIDE: "none stands out",
    Asks.FLICKER: "none flickers",
    Asks.REST: "nothing is lit",
    Asks.WITNESS: "nothing is lit",
}
UNSTEADY_WORDS = {
    Asks.FIRST: "it flickers",
    Asks.LAST: "it flickers",
    Asks.HEAD: "it flickers",
    Asks.TAIL: "it flickers",
    Asks.BESIDE: "several do, or flicker",
}


def answers_to(asks: Asks, eyes: Eyes) -> tuple[Answer, ...]:
    """Return what can be answered, besides that one cannot tell."""
    if asks is Asks.MATCH:
        return YES, NO
    if asks is Asks.REST:
        return YES, NO, Answer.NONE
    steady = (*eyes.words, Answer.NONE)
    return (*steady, Answer.UNSTEADY) if asks in UNSTEADY_WORDS else steady


def choices_of(asks: Asks, eyes: Eyes) -> tuple[Choice, ...]:
    """Return what can be answered, in the order of the keys, and last that one cannot tell."""
    words = dict(eyes.words) if asks not in YES_OR_NO else {YES: "yes", NO: "no"}
    words[Answer.NONE] = NONE_WORDS.get(asks, "")
    words[Answer.UNSTEADY] = UNSTEADY_WORDS.get(asks, "")
    told = [Choice(answer, words[answer]) for answer in answers_to(asks, eyes)]
    return (*told, Choice(Answer.CANT_TELL, "can't tell"))
