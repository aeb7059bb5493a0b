"""Where in a display something stands, and how values and names are quoted in a message about it."""

from collections.abc import Callable
from typing import NamedTuple

KeyPath = tuple[str | int, ...]
"""("controllers", 0, "ports", 2, "slot"); indices from 0."""

SHOWN_CHARACTERS = 40
"""Longer values are cut where they are quoted in a message."""


class Place(NamedTuple):
    """Where something stands: in words, and by line and column from 1, 0 where unknown."""

    text: str
    line: int = 0
    column: int = 0


Locate = Callable[[KeyPath], Place]


def shown(value: object) -> str:
    """Return a value as a person would write it, cut short, control characters neutralised."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "a table"
    text = repr(value) if isinstance(value, str | int | float) else f"'{value}'"
    return text if len(text) <= SHOWN_CHARACTERS else text[: SHOWN_CHARACTERS - 1] + "…"


def plain(text: str) -> str:
    """Return a name to put in a message: as it is if every character can be printed, else quoted."""
    return text if text.isprintable() else ascii(text)
