"""Guided searches from the first look to the verdict: the lights at one side, who answers at the other."""

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
from streamer.cli.real_lights import are_real
from streamer.cli.rivals import check_rivals
from streamer.cli.sent_to import sent_to
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.rewrite import write_nodes
from streamer.ending import ending_signals
from streamer.engine.messages import Setup, Show
from streamer.engine.rivals import WIDEST
from streamer.find.finding import Bench, Finding
from streamer.find.rounds import Outcome, outcome_of
from streamer.find.safe_level import DIMMED, safe_level_percent
from streamer.find.terms import Terms
from streamer.find.verdict import Verdict, verdict_of
from streamer.logbook.findings import corrected, found, taken_back
from streamer.logbook.records import Entry
from streamer.logbook.store import Logbook, logbook_path

PICTURE = "picture"
CAUTION = "Caution: real lights change. Nobody on a ladder or at the wiring should be surprised."
UNDO, SKIP = "undo", "skip"


class Operator(Protocol):
    """Who answers: a person at a prompt, or a program."""

    def begin(self, port: str, number: int, total: int) -> None:
        """Say which port comes now, where there are several."""

    def ask(self, finding: Finding) -> str | int | None:
        """Show the look; return an answer, "undo", in a round "skip", or None to end."""

    def close(self, finding: Finding, verdict: Verdict) -> None:
        """Tell the verdict."""

    def agrees(self, question: str) -> bool:
        """Ask whether something is to be done."""

    def goes_on(self, port: str) -> str | None:
        """After a verdict: "" to go on to this port, "undo" to go back into the last, None to end."""

    def sum_up(self, display: Display, verdicts: dict[str, Verdict | None]) -> None:
        """Tell what came of a round."""


class Search:
    """What was asked for, checked; `run` does it. PlanError for a wrong file, port or address."""

    def __init__(self, terms: Terms, options: dict[str, Any], *, writes: bool) -> None:
        self._path: Path = options["file"]
        self._terms, self._options, self._writes = terms, options, writes
        self._display = self._load()
        self._level_percent = min(options["level"], safe_level_percent(self._display))
        named = options["port"]
        self._ports = (named,) if named else tuple(port.name for port in self._display.ports)
        self._is_round = not named
        self._bench = Bench(self._display, self._ports[0], terms)
        self._verdicts: dict[str, Verdict | None] = dict.fromkeys(self._ports)

    def _load(self) -> Display:
        return sent_to(load(self._path), self._options["to"])

    def run(self) -> bool:
        """Search until the verdict, or until the end is asked for; return whether all is as planned."""
        setup = self._setup(self._bench)
        if are_real(setup):
            complain(CAUTION)
        if self._level_percent < self._options["level"]:
            complain(DIMMED.format(self._level_percent))
        if not self._options["anyway"]:
            if self._is_round:
                check_rivals(setup.model_copy(update={"display": self._display}), WIDEST)
            else:
                check_rivals(setup, PICTURE)
        lights = Lights(setup, "find")
        with ending_signals() as is_asked_to_end, lights:
            keys = Keys(sys.stdin, lights.attend, is_asked_to_end)
            operator: Operator = (
                Program(keys, is_round=self._is_round)
                if self._is_for_a_program
                else Prompt(keys, is_round=self._is_round)
            )
            if self._is_round:
                self._go_round(lights, operator)
            else:
                finding = Finding(self._bench)
                self._ask(finding, lights, operator)
        if self._is_round:
            operator.sum_up(self._display, self._verdicts)
        else:
            # The lights are dark while a person reads.
            self._settle(finding, operator)
        return all(outcome_of(each) is Outcome.PLANNED for each in self._verdicts.values())

    @property
    def _is_for_a_program(self) -> bool:
        return bool(self._options["answers"] == "-")

    def _setup(self, bench: Bench) -> Setup:
        return Setup(
            display=bench.canvas,
            as_hung=self._display,
            interface=self._options["interface"],
            flashes_per_s=self._options["flashes"],
        )

    def _go_round(self, lights: Lights, operator: Operator) -> None:
        for number, port in enumerate(self._ports, 1):
            if number > 1:
                self._bench = Bench(self._display, port, self._terms)
                lights.turn_to(self._setup(self._bench))
            operator.begin(port, number, len(self._ports))
            if not self._search_in_round(Finding(self._bench), lights, operator, self._ports[number:]):
                return

    def _search_in_round(
        self, finding: Finding, lights: Lights, operator: Operator, left: tuple[str, ...]
    ) -> bool:
        """Search on one port of several; False when the end is asked for."""
        while True:
            way_out = self._ask(finding, lights, operator)
            if way_out == SKIP:
                return True
            if way_out is None and finding.look is not None:
                return False
            written = self._settle(finding, operator)
            wish = operator.goes_on(left[0]) if left else ""
            if wish != UNDO:
                return wish is not None
            finding.undo()
            self._verdicts[finding.bench.thinking.port.name] = None
            if written:
                self._append(taken_back(written, _now()))

    def _ask(self, finding: Finding, lights: Lights, operator: Operator) -> str | None:
        """Ask until there is no look left; SKIP when it is to be left out, None when it is over or ended."""
        level = self._level_percent
        while finding.look is not None:
            lights.put_up(
                Show(pattern=PICTURE, params={"nodes": finding.nodes}, pace=0.0, level_percent=level)
            )
            answer = operator.ask(finding)
            if answer is None:
                return None
            if answer == SKIP:
                return SKIP
            if answer == UNDO:
                finding.undo()
            else:
                finding.answer(int(answer))
        return None

    def _settle(self, finding: Finding, operator: Operator) -> Entry | None:
        """Tell the verdict and write down what is certain; return the entry written."""
        verdict, port = verdict_of(finding), finding.bench.thinking.port.name
        operator.close(finding, verdict)
        self._verdicts[port] = verdict
        if not verdict.is_certain:
            return None
        entry = self._append(
            found(self._display, port, verdict.sentence, _now(), is_fault=not verdict.is_healthy)
        )
        if not (self._is_for_a_program or self._is_round):
            path = logbook_path(self._path)
            complain(f"Written down in the logbook, {path}. To read it: ropewalk log {self._path}")
        if self._writes and finding.look is None:
            self._offer(verdict, port, operator)
        return entry

    def _append(self, entry: Entry) -> Entry:
        with closing(Logbook(logbook_path(self._path))) as book:
            return book.append(entry)[0]

    def _offer(self, verdict: Verdict, port: str, operator: Operator) -> None:
        nodes = verdict.counted_nodes
        if nodes is None:
            return
        question = f"Write {nodes} nodes for {port} to {self._path}?"
        if self._options["write"] or operator.agrees(question):
            write_nodes(self._path, port, nodes)
            self._display = self._load()
            self._append(corrected(self._display, port, nodes, _now()))
            complain(f"{self._path}: {port} has {nodes} nodes now. Check it: ropewalk check {self._path}")


def _now() -> datetime:
    return datetime.now(tz=UTC).astimezone()
