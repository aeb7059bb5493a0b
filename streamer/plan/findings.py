"""What a plan tells a person to look at: what would go wrong, where, and what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

NAMED = 3
"""Places told by name; a hundred ports of one fault are one finding."""


class Severity(StrEnum):
    """How bad it is."""

    FAULT = "fault"
    """It cannot work."""
    WARNING = "warning"
    """It works, but worse than one may think."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that would go wrong."""

    severity: Severity
    place: str
    """A port ("jetty/1"), a controller, a universe, or the network."""
    what: str
    """A sentence without its full stop."""
    instead: str
    """What to do, a sentence with its full stop."""


def places_text(names: Sequence[str]) -> str:
    """Return "jetty/1, jetty/2, jetty/3 and 4 more"."""
    if len(names) <= NAMED + 1:
        return ", ".join(names)
    return f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"
