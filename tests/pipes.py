"""The pipes of a process that was started with them."""

from typing import IO, TypeVar

Octets = TypeVar("Octets", str, bytes)


def piped(pipe: IO[Octets] | None) -> IO[Octets]:
    """Return a pipe that was asked for, so that it is there."""
    assert pipe is not None
    return pipe
