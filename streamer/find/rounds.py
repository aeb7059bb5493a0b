"""What came of going through several ports: a line for each, and how many stand how."""

from collections.abc import Mapping
from enum import StrEnum

from streamer.display.model import Display
from streamer.find.telling import named
from streamer.find.verdict import Verdict, certainty_text


class Outcome(StrEnum):
    """How a port stands after a round, the most urgent first."""

    FAULT = "not as planned"
    DOUBT = "not certain"
    UNSEEN = "not looked at"
    PLANNED = "as planned"


def outcome_of(verdict: Verdict | None) -> Outcome:
    """Return how a port stands; None is one that was left out."""
    if verdict is None:
        return Outcome.UNSEEN
    if not verdict.is_certain:
        return Outcome.DOUBT
    return Outcome.PLANNED if verdict.is_healthy else Outcome.FAULT


def summary(display: Display, verdicts: Mapping[str, Verdict | None]) -> tuple[str, ...]:
    """Return how many ports stand how, then a line for each that is not as planned, most urgent first."""
    outcomes = {port: outcome_of(verdict) for port, verdict in verdicts.items()}
    counts = [f"{count} {each}" for each in Outcome if (count := list(outcomes.values()).count(each))]
    ports = "1 port" if len(verdicts) == 1 else f"{len(verdicts)} ports"
    lines = [
        f"{named(display, port)}: {_told(verdicts[port])}"
        for each in Outcome
        if each is not Outcome.PLANNED
        for port, outcome in outcomes.items()
        if outcome is each
    ]
    return (f"{ports}: {', '.join(counts)}.", *lines)


def _told(verdict: Verdict | None) -> str:
    if verdict is None:
        return f"{Outcome.UNSEEN}."
    if verdict.is_certain:
        return verdict.sentence
    return f"{Outcome.DOUBT}; most likely ({certainty_text(verdict.certainty)}): {verdict.sentence}"
