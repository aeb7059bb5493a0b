"""What can go wrong, split by whose fault it is.

    RopewalkError
    ├── PlanError       the display file, a range or a request is wrong: change what was asked
    │   └── FileError   of these, a file: it is not there, cannot be read or written, or holds what is wrong
    ├── FieldError      our own side asked for a value that a standard does not allow: correct the caller
    ├── PacketError     a datagram from the network is wrong: it is counted and dropped
    ├── NetworkError    the operating system refuses: an interface, an address, a port
    ├── LinkError       one of our own processes cannot be reached or refuses the request
    │   └── RivalError  of these, another run that sends to the same place: end it, or send beside it
    ├── LogbookError    the logbook cannot be read or written: its file, its disk
    ├── CaptureError    a capture cannot be read or written: its file, its disk
    └── JournalError    a night run's journal cannot be read or written
        └── JournalFullError    for want of room: the run goes on without it

Every message says what is wrong, where, and what to do next.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path


class RopewalkError(Exception):
    """Anything that is told to a person in words, never as a traceback."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a plan.

    `place` is where ("display.toml:12: controllers.jetty.ports[2].slot", or "-u"); `what` is what
    is wrong there; `instead` is what to write. `line` and `column` count from 1, 0 where unknown.
    """

    place: str
    what: str
    instead: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.place}: {self.what}. {self.instead}"


class PlanError(RopewalkError):
    """Everything wrong with a plan or a request, at once."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))


class FileError(PlanError):
    """Everything wrong with a file that a person has named: its name, its permissions, what stands in it."""


class FieldError(RopewalkError, ValueError):
    """A value that the standard does not allow: `field` (the standard's name) was to be `value`."""

    def __init__(self, field: str, value: object, allowed: str) -> None:
        self.field = field
        self.value = value
        self.allowed = allowed
        super().__init__(f"{field} cannot be {value!r}. Use {allowed}")


class PacketError(RopewalkError):
    """A datagram that a receiver must discard: `field` (the standard's name) at octet `octet`, from 0."""

    def __init__(self, field: str, octet: int, what: str) -> None:
        self.field = field
        self.octet = octet
        self.what = what
        super().__init__(f"{field} at octet {octet}: {what}")


class NetworkError(RopewalkError):
    """The operating system refused: `what` failed, `where`, and what to do `instead`."""

    def __init__(self, what: str, where: str, instead: str) -> None:
        self.what = what
        self.where = where
        self.instead = instead
        super().__init__(f"{where}: {what}. {instead}")


class LinkError(RopewalkError):
    """One of our own processes is not there, or refuses."""


class RivalError(LinkError):
    """Another run of this user sends to the same place."""


class LogbookError(RopewalkError):
    """The logbook's file cannot be used: `what` is wrong, `where`, and what to do `instead`."""

    def __init__(self, what: str, where: str, instead: str) -> None:
        self.what = what
        self.where = where
        self.instead = instead
        super().__init__(f"{where}: {what}. {instead}")


class CaptureError(RopewalkError):
    """A capture's file cannot be used: `what` is wrong, which file, and what to do `instead`."""

    def __init__(self, what: str, path: Path, instead: str) -> None:
        self.what = what
        self.path = path
        self.instead = instead
        super().__init__(f"{path}: {what}. {instead}")


class JournalError(RopewalkError):
    """A night run's journal cannot be used: `what` is wrong, `where`, and what to do `instead`."""

    def __init__(self, what: str, where: str, instead: str) -> None:
        self.what = what
        self.where = where
        self.instead = instead
        super().__init__(f"{where}: {what}. {instead}")


class JournalFullError(JournalError):
    """The disk is full: what was kept stays, and writing goes on by itself when there is room again."""
