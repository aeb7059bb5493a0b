"""What the lane shows: a display's rows, the frames seen last, what is looked at. It draws nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from streamer.display.model import Controller, Display
from tui.compare import DIFFERS, Comparison
from tui.rows import FixtureRow, Kind, Line, StringRow, fixture_rows, string_rows

if TYPE_CHECKING:
    from patterns.plain import Bytes, Frame

FITTING, EVERYWHERE = "everywhere if there is room, else where they differ", "everywhere"
WHERE_DIFFERENT, NOWHERE = "where they differ", "nowhere"
ARRIVALS = (FITTING, EVERYWHERE, WHERE_DIFFERENT, NOWHERE)
"""The ways to show what arrives under what is sent."""
HEADS_FROM_HEIGHT = 18
"""Controllers get lines of their own from so many lines on."""
FULL_PERCENT = 100
SPACIOUS = ((2, True), (1, True), (1, False))
"""Lines a string and a gap after it or not: the first that fits is taken."""


class Picture:
    """`cursor` is the string looked at, `pinned` the node (from 0), or None to follow the light."""

    def __init__(self, display: Display | None = None) -> None:
        self.display = display
        self.strings: tuple[StringRow, ...] = string_rows(display) if display else ()
        self.fixtures: tuple[FixtureRow, ...] = fixture_rows(display) if display else ()
        self.sent: Frame | None = None
        self.arrived: Frame | None = None
        self.comparison = Comparison(self.strings)
        self.cursor = 0
        self.pinned: int | None = None
        self._lit_node = 0
        self.is_lit = False
        """Whether a node of the string looked at is lit; if not, `node` is the one that was lit before."""
        self.was_lit = False

    @property
    def controllers(self) -> tuple[Controller, ...]:
        """The controllers of the display."""
        return self.display.controllers if self.display else ()

    @property
    def here(self) -> StringRow | None:
        """The string looked at."""
        return self.strings[self.cursor] if self.strings else None

    @property
    def node(self) -> int:
        """The node looked at, from 0: the pinned one, or the brightest (the first of several)."""
        if self.here is None:
            return 0
        return min(self._lit_node if self.pinned is None else self.pinned, self.here.port.nodes - 1)

    @property
    def components(self) -> "Bytes | None":
        """The four components of the node looked at, as sent."""
        return self.sent.nodes[self.here.start + self.node] if self.sent and self.here else None

    @property
    def longest(self) -> int:
        """Nodes of the longest string."""
        return max((row.port.nodes for row in self.strings), default=1)

    def look_at(self, cursor: int, pinned: int | None) -> None:
        """Look at a string, and at one node of it or wherever its light is."""
        if self.strings:
            self.cursor = cursor % len(self.strings)
            nodes = self.strings[self.cursor].port.nodes
            self.pinned = None if pinned is None else max(0, min(pinned, nodes - 1))
            self._follow()

    def _follow(self) -> None:
        """Find the brightest node; in the dark the one before stays."""
        if self.sent is not None and self.here is not None:
            light = self.sent.nodes[self.here.start : self.here.end].max(axis=1)
            self.is_lit = bool(light.any())
            if self.is_lit:
                self._lit_node, self.was_lit = int(light.argmax()), True

    def see(self, sent: "Frame | None", arrived: "Frame | None") -> set[int]:
        """Take in what is sent and what arrives now; returns the strings that look different.

        The number of strings stands for the fixtures. A frame of another display is not taken in.
        """
        sent, arrived = self._ours(sent), self._ours(arrived)
        changed = self._changed(self.sent, sent) | self._changed(self.arrived, arrived)
        self.sent, self.arrived = sent, arrived
        self._follow()
        if sent is not None and arrived is not None:
            changed |= set(self.comparison.look(sent.nodes, arrived.nodes))
        return changed

    def _ours(self, frame: "Frame | None") -> "Frame | None":
        total = self.strings[-1].end if self.strings else 0
        return frame if frame is not None and len(frame.nodes) == total else None

    def _changed(self, before: "Frame | None", now: "Frame | None") -> set[int]:
        if before is now:
            return set()
        if before is None or now is None:
            return set(range(len(self.strings) + 1))
        unequal = (before.nodes != now.nodes).any(axis=1)
        rows = {index for index, row in enumerate(self.strings) if unequal[row.start : row.end].any()}
        return rows if (before.channels == now.channels).all() else rows | {len(self.strings)}

    def lines(self, height: int, arrivals: str) -> list[Line]:
        """Return the lines to show, as spacious as the height allows."""
        ways = (EVERYWHERE, WHERE_DIFFERENT) if arrivals == FITTING else (arrivals,)
        tries = [self._lines(height, way, tall, has_gaps=gaps) for way in ways for tall, gaps in SPACIOUS]
        return next((lines for lines in tries if len(lines) <= height), tries[-1])

    def _lines(self, height: int, arrivals: str, tall: int, *, has_gaps: bool) -> list[Line]:
        lines: list[Line] = []
        for index, controller in enumerate(self.controllers):
            if height >= HEADS_FROM_HEIGHT:
                lines += [Line(Kind.GAP, 0)] * bool(lines and not has_gaps)
                lines.append(Line(Kind.CONTROLLER, index))
            for row, string in enumerate(self.strings):
                if string.controller is controller:
                    kinds = (Kind.SENT, Kind.ARRIVED) if self._arrives_on(row, arrivals) else (Kind.SENT,)
                    lines += [Line(kind, row, part) for kind in kinds for part in range(tall)]
                    lines += [Line(Kind.GAP, row)] * has_gaps
            lines += [
                Line(Kind.FIXTURE, row)
                for row, each in enumerate(self.fixtures)
                if each.controller is controller
            ]
            if has_gaps and lines and lines[-1].kind is Kind.FIXTURE:
                lines.append(Line(Kind.GAP, 0))
        return lines

    def _arrives_on(self, row: int, arrivals: str) -> bool:
        if self.arrived is None or arrivals == NOWHERE:
            return False
        return arrivals == EVERYWHERE or self.comparison.marks[row] == DIFFERS


@dataclass(frozen=True)
class Choice:
    """What the person chose to see: which ports are on (None: all), the level, the notes beside arrivals."""

    ports: frozenset[str] | None = None
    level_percent: float = FULL_PERCENT
    notes: Mapping[str, str] = field(default_factory=dict)

    @property
    def gain(self) -> float:
        """What brings a light of this level to full."""
        return FULL_PERCENT / self.level_percent if self.level_percent else 1.0

    def is_on(self, row: StringRow) -> bool:
        """Return whether the string's port shows the pattern."""
        return self.ports is None or row.port.name in self.ports
