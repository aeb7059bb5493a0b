"""What the lane has rows for: the strings and the fixtures of a display, with where each lies in a frame."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from streamer.display.model import Controller, Display, Fixture, Port


@dataclass(frozen=True, slots=True)
class StringRow:
    """A string: its controller, its port, its first node in a frame."""

    controller: Controller
    port: Port
    start: int

    @property
    def end(self) -> int:
        """The index after its last node."""
        return self.start + self.port.nodes


@dataclass(frozen=True, slots=True)
class FixtureRow:
    """A fixture: its controller, its first channel in a frame."""

    controller: Controller
    fixture: Fixture
    start: int


class Kind(Enum):
    """What a line of the lane shows."""

    CONTROLLER = "controller"
    SENT = "sent"
    ARRIVED = "arrived"
    FIXTURE = "fixture"
    GAP = "gap"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its kind, and the index of its row (or controller)."""

    kind: Kind
    index: int
    part: int = 0
    """Of a row several lines tall, which."""


def string_rows(display: Display) -> tuple[StringRow, ...]:
    """Return a row for each string, in the frame's order."""
    return tuple(_string_rows(display))


def _string_rows(display: Display) -> Iterator[StringRow]:
    start = 0
    for controller in display.controllers:
        for port in controller.ports:
            yield StringRow(controller, port, start)
            start += port.nodes


def fixture_rows(display: Display) -> tuple[FixtureRow, ...]:
    """Return a row for each fixture, in the frame's order."""
    return tuple(_fixture_rows(display))


def _fixture_rows(display: Display) -> Iterator[FixtureRow]:
    start = 0
    for controller in display.controllers:
        for fixture in controller.fixtures:
            yield FixtureRow(controller, fixture, start)
            start += len(fixture.channels)
