"""One guided search from its first look to its verdict: the lights at one side, who answers at the other."""

import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from streamer.cli.common import complain
from streamer.cli.keys import Keys
from streamer.cli.lights import Lights
from streamer.cli.program import Program
from streamer.cli.prompt import Prompt
from streamer.cli.rivals import check_rivals
from streamer.display.file import load
from streamer.display.ranges import readdress
from streamer.display.rewrite import write_nodes
from streamer.ending import ending_signals
from streamer.engine.messages import Setup, Show
from streamer.find.finding import Bench, Finding, Terms
from streamer.find.kinds import Kind
from streamer.find.safe_level import safe_level_percent
from streamer.find.verdict import Verdict, verdict_of
from streamer.logbook.findings import found
from streamer.logbook.store import Logbook, logbook_path
from streamer.net.destinations import is_loopback

PICTURE = "picture"
COUNTED = frozenset({Kind.FEWER, Kind.MORE})
DIMMED = (
    "All looks are at {:.3g} %: brighter, full white would load a fuse or a supply above its limit for hours "
    "(see: ropewalk plan FILE --level 100)."
)
CAUTION = "Caution: real lights change. Nobody on a ladder or at the wiring should be surprised."


class Operator(Protocol):
    """Who answers: a person at a prompt, or a program."""

    def ask(self, finding: Finding) -> str | int | None:
        """Show the look; return an answer, "undo", or None to end."""

    def close(self, finding: Finding, verdict: Verdict) -> None:
        """Tell the verdict."""

    def agrees(self, question: str) -> bool:
        """Ask whether something is to be done."""


class Search:
    """What was asked for, checked; `run` does it. PlanError for a wrong file, port or address."""

    def __init__(self, terms: Terms, options: dict[str, Any], *, writes: bool) -> None:
        self._path: Path = options["file"]
        self._options, self._writes = options, writes
        display = load(self._path)
        self._display = readdress(display, options["to"]) if options["to"] else display
        self._bench = Bench(self._display, options["port"], terms)
        self._level_percent = min(options["level"], safe_level_percent(self._display))

    def run(self) -> bool:
        """Search until the verdict, or until the end is asked for; return whether all is as planned."""
        canvas = self._bench.canvas
        is_here = all(is_loopback(each.address) for each in canvas.controllers)
        if not is_here:
            complain(CAUTION)
        if self._level_percent < self._options["level"]:
            complain(DIMMED.format(self._level_percent))
        setup = Setup(
            display=canvas, interface=self._options["interface"], flashes_per_s=self._options["flashes"]
        )
        if not self._options["anyway"]:
            check_rivals(setup, PICTURE)
        lights = Lights(setup, "find")
        with ending_signals() as is_asked_to_end, lights:
            keys = Keys(sys.stdin, lights.attend, is_asked_to_end)
            operator: Operator = Program(keys) if self._is_for_a_program else Prompt(keys)
            finding = Finding(self._bench)
            self._ask(finding, lights, operator)
        verdict = verdict_of(finding)
        operator.close(finding, verdict)
        if verdict.is_certain:
            self._note(verdict)
        if self._writes and finding.look is None:
            self._write(verdict, operator)
        return verdict.is_healthy and verdict.is_certain

    @property
    def _is_for_a_program(self) -> bool:
        return bool(self._options["answers"] == "-")

    def _ask(self, finding: Finding, lights: Lights, operator: Operator) -> None:
        level = self._level_percent
        while finding.look is not None:
            lights.put_up(
                Show(pattern=PICTURE, params={"nodes": finding.nodes}, pace=0.0, level_percent=level)
            )
            answer = operator.ask(finding)
            if answer is None:
                return
            if answer == "undo":
                finding.undo()
            else:
                finding.answer(int(answer))

    def _note(self, verdict: Verdict) -> None:
        path, port = logbook_path(self._path), self._bench.thinking.port.name
        at = datetime.now(tz=UTC).astimezone()
        with closing(Logbook(path)) as book:
            book.append(found(self._display, port, verdict.sentence, at, is_fault=not verdict.is_healthy))
        if not self._is_for_a_program:
            complain(f"Written down in the logbook, {path}. To read it: ropewalk log {self._path}")

    def _write(self, verdict: Verdict, operator: Operator) -> None:
        nodes, port = verdict.row.hung, self._bench.thinking.port
        if not (verdict.is_certain and verdict.row.kind in COUNTED):
            return
        question = f"Write {nodes} nodes for {port.name} to {self._path}?"
        if self._options["write"] or operator.agrees(question):
            write_nodes(self._path, port.name, nodes)
            complain(
                f"{self._path}: {port.name} has {nodes} nodes now. Check it: ropewalk check {self._path}"
            )
