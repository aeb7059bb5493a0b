"""One link of the chain and what was found of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class Link(StrEnum):
    """The links, in the order in which they are looked at."""

    FILE = "file"
    INTERFACE = "interface"
    WAY = "way"
    """To one controller's address: the same subnet, or a route."""
    GROUPS_WAY = "multicast way"
    PORT = "port"
    GROUPS = "groups"
    """Joined, so that they are heard."""
    OWN_MULTICAST = "own multicast"
    ANSWER = "answer"
    OTHERS = "other sources"
    RUNS = "own runs"
    AIR = "air"


class State(StrEnum):
    """What was found."""

    WELL = "well"
    REMARK = "remark"
    """It may well work, and deserves a look: it is not counted as broken."""
    BROKEN = "broken"
    NOT_LOOKED_AT = "not looked at"
    """It rests on something that is broken, or this machine does not let us look."""


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was looked at."""

    link: Link
    subject: str
    """Which one: "shed0", "jetty (192.168.7.50)", "E1.31, UDP 5568"."""
    state: State
    looked_at: str
    """Where the facts are from."""
    saw: str
    """A sentence without its full stop; for what was not looked at, why not."""
    instead: str = ""
    """What to do, a sentence or several; empty where nothing is to be done."""

    def as_dict(self) -> dict[str, str]:
        """Return what a script wants to know."""
        return {
            "link": self.link.value,
            "subject": self.subject,
            "state": self.state.value,
            "looked_at": self.looked_at,
            "saw": self.saw,
            "instead": self.instead,
        }


def first_broken(checks: Iterable[Check]) -> Check | None:
    """Return the broken link nearest to the file; None when none is."""
    return next((each for each in checks if each.state is State.BROKEN), None)


def first_that_breaks(needed: Sequence[Check]) -> Check | None:
    """Return what a check rests on that is not there: broken itself, or not looked at."""
    return next((each for each in needed if each.state in {State.BROKEN, State.NOT_LOOKED_AT}), None)
