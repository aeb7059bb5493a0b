"""What a logbook holds: entries that are only ever added to. An entry that was a slip is undone by another.

Plain, frozen, checked values; no file, no clock.
"""

from collections.abc import Iterable
from enum import StrEnum
from typing import Annotated, NamedTuple

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, JsonValue

TEXT_LIMIT = 2_000
"""Characters of a note; more is no note. Bounds memory."""

Fingerprint = dict[str, JsonValue]
"""What matters to one string or fixture in the display file, by the file's own keys."""
Text = Annotated[str, Field(max_length=TEXT_LIMIT)]


class Sort(StrEnum):
    """What an entry is about."""

    STRING = "string"
    FIXTURE = "fixture"
    DISPLAY = "display"
    """All of it."""


class Subject(NamedTuple):
    """A string, by its port's name, or a fixture: the two have names of their own."""

    sort: Sort
    name: str


ALL = Subject(Sort.DISPLAY, "")


class Kind(StrEnum):
    """What happened."""

    ANSWER = "answer"
    """A person looked, and answered."""
    SKIPPED = "skipped"
    """It was passed over: not looked at."""
    BEGUN = "begun"
    """It is to be looked at from the first look on, whatever was answered before."""
    FOUND = "found"
    """A fault was named, or healthy was."""
    FIXED = "fixed"
    NOTE = "note"
    UNDONE = "undone"
    """An entry before was a slip."""


class Verdict(StrEnum):
    """What an entry settles."""

    PROVEN = "proven"
    FAULT = "at fault"


class Entry(BaseModel):
    """One line of the logbook."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: Annotated[int, Field(ge=0)] = 0
    """Counts from 1 within the logbook, in the order of writing; 0 is not written yet."""
    at: AwareDatetime
    """When, with the offset of the clock on the wall."""
    kind: Kind
    sort: Sort
    name: Text = ""
    label: Text = ""
    """What the person called it then."""
    look: Text = ""
    """Which look was up: "order"."""
    question: Text = ""
    answer: Text = ""
    verdict: Verdict | None = None
    words: Text = ""
    """What was found, done or noted."""
    undoes: int | None = None
    """The number of the entry that was a slip."""
    fingerprint: Fingerprint = {}
    """The display file's words about the subject, as they were then."""

    @property
    def subject(self) -> Subject:
        """What it is about."""
        return Subject(self.sort, self.name)


def standing_entries(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries without those that were undone, and without the undoing."""
    kept = tuple(entries)
    slips = {entry.undoes for entry in kept if entry.kind is Kind.UNDONE}
    return tuple(entry for entry in kept if entry.kind is not Kind.UNDONE and entry.number not in slips)
