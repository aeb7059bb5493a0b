"""What may be one of several kinds, and is to be of one."""

from typing import TypeVar

Kind = TypeVar("Kind")


def of_kind(kind: type[Kind], thing: object) -> Kind:
    """Return the thing, which is of this kind."""
    assert isinstance(thing, kind), thing
    return thing
