"""What a person may have in mind before the first look: everything, or one thing only."""

from streamer.find.answers import EYES
from streamer.find.kinds import Kind
from streamer.find.terms import CERTAINTY, ERROR_RATE, Terms

ANYTHING, BREAK, COUNT = "anything", "break", "count"
SUSPECTS = {
    ANYTHING: frozenset(Kind),
    BREAK: frozenset({Kind.BREAK, Kind.NOTHING}),
    COUNT: frozenset({Kind.FEWER, Kind.MORE, Kind.NOTHING}),
    "address": frozenset({
        Kind.NOTHING, Kind.SLOT, Kind.UNIVERSE, Kind.BASE, Kind.SKIP, Kind.SWAPPED, Kind.ADDRESSING
    }),
    "light": frozenset({Kind.DEAD, Kind.STUCK, Kind.COLOUR, Kind.FLICKER}),
}  # fmt: skip
EVEN = frozenset({BREAK, COUNT})
"""Where only one thing is in question, no place is likelier than another."""


def terms_of(suspect: str, eyes: str, error_rate: float = ERROR_RATE, certainty: float = CERTAINTY) -> Terms:
    """Return the terms of a search, by names in SUSPECTS and EYES; PlanError for wrong shares."""
    return Terms(
        eyes=EYES[eyes],
        error_rate=error_rate,
        certainty=certainty,
        suspects=SUSPECTS[suspect],
        even=suspect in EVEN,
    )
