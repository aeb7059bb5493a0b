"""The guided search on one port as a session of the asking sheet; a certain verdict goes into the logbook."""

from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from patterns.plain import Bytes
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.rewrite import write_nodes
from streamer.engine.messages import Setup, Show
from streamer.errors import PlanError, Problem
from streamer.find.asking import colours_of, headline_of, lights_of, question_of, sent_codes, shown_words
from streamer.find.finding import Bench, Finding
from streamer.find.questions import Asks
from streamer.find.safe_level import DIMMED, safe_level_percent
from streamer.find.telling import Teller, named
from streamer.find.terms import Terms
from streamer.find.verdict import Verdict, certainty_text, verdict_of
from streamer.find.why import why
from streamer.logbook.findings import corrected, found, taken_back
from streamer.logbook.records import Entry
from streamer.logbook.store import Logbook, logbook_path
from tui.session import Look, Page

PICTURE = "picture"
POSSIBLE_MOST = 3
NO_BOOK = "There is no display file, so this is in no logbook."
LEAVE, CORRECT = "l", "c"
"""Letters: a digit pressed once too often must not answer what comes after the verdict."""


class FindSession:
    """One search. PlanError where the display has no such port; making it may take a second.

    `rewritten` is told the display when the display file was given another number of nodes.
    """

    def __init__(  # noqa: PLR0913, PLR0917  what a search is about, and what it may write
        self,
        setup: Setup,
        port: str,
        level_percent: float,
        display_file: Path | None,
        terms: Terms | None = None,
        rewritten: Callable[[Display], None] = lambda _display: None,
    ) -> None:
        self.port = port
        self._display, self._file = setup.display, display_file
        self._level_percent = min(level_percent, safe_level_percent(setup.display))
        self._is_dimmed = self._level_percent < level_percent
        self._bench = Bench(setup.display, port, terms)
        self._setup = setup.model_copy(update={"display": self._bench.canvas, "as_hung": setup.display})
        self._finding = Finding(self._bench)
        self._rewritten = rewritten
        self._written: Entry | None = None
        self._corrected_to: int | None = None
        self._is_left = False

    @property
    def look(self) -> Look | None:
        """The still picture to put up."""
        if self._finding.look is None:
            return None
        nodes = self._finding.nodes
        show = Show(pattern=PICTURE, params={"nodes": nodes}, level_percent=self._level_percent)
        return Look(self._setup, show)

    @property
    def verdict(self) -> Verdict | None:
        """What it has come to; None while it goes on."""
        return None if self._finding.look else verdict_of(self._finding)

    @property
    def page(self) -> Page:
        """The question, or the verdict."""
        finding, verdict = self._finding, self.verdict
        looks = len(finding.steps)
        return Page(
            place=f"After {looks} look{'s' * (looks != 1)}" if verdict else f"Look {looks + 1}{self._dimmed}",
            done=finding.progress,
            told=shown_words(finding),
            question=question_of(finding),
            answers=self._offers(verdict)
            if verdict
            else tuple((str(int(each.answer)), each.words) for each in finding.choices),
            sure=finding.certainty,
            certainty=certainty_text(finding.certainty),
            possible=self._possible(),
            outcome=self._outcome(verdict) if verdict else (),
            watched=self._watched(),
            headline=verdict.headline if verdict else headline_of(finding),
            lights={str(int(each)): light for each, light in colours_of(finding).items()},
            title=f"Find: {named(self._display, self.port)}",
        )

    @property
    def _dimmed(self) -> str:
        return f" at {self._level_percent:.3g} %" if self._is_dimmed else ""

    @property
    def _dimmed_words(self) -> tuple[str, ...]:
        return (DIMMED.format(self._level_percent),) if self._is_dimmed else ()

    def _watched(self) -> tuple[str, ...]:
        look, witness = self._finding.look, self._bench.thinking.witness
        is_beside = look is not None and look.asks is Asks.WITNESS and witness is not None
        return (witness.name,) if is_beside and witness else (self.port,)

    def _offers(self, verdict: Verdict) -> tuple[tuple[str, str], ...]:
        """Return what can be done about a number of nodes that the display file does not know."""
        nodes = verdict.counted_nodes
        if nodes is None or self._file is None or self._is_left or self._corrected_to is not None:
            return ()
        name = self._file.name
        return (
            (LEAVE, f"leave {name} as it is"),
            (CORRECT, f"write {nodes} nodes for {self.port} to {name}"),
        )

    def _possible(self) -> tuple[str, ...]:
        thinking = self._bench.thinking
        teller = Teller(thinking)
        possible = (
            f"{certainty_text(each.share)}  {teller.sentence(each.row)}"
            for each in self._finding.possibilities(most=POSSIBLE_MOST)
        )
        return (*possible, *self._dimmed_words)

    def _outcome(self, verdict: Verdict) -> tuple[str, ...]:
        noted = ""
        if verdict.is_certain:
            noted = " Noted in the logbook." if self._written else f" {NO_BOOK}"
        parts = [verdict.sentence, f"{certainty_text(verdict.certainty)} sure.{noted}"]
        if self._corrected_to is not None and self._file is not None:
            parts.append(f"{self._file.name} has {self._corrected_to} nodes for {self.port} now.")
        if verdict.is_healthy:
            parts += verdict.checks
        else:
            parts += [f"{number}. {check}" for number, check in enumerate(verdict.checks, 1)]
        for each in verdict.remains:
            how = "looks the same" if each.looks_the_same else certainty_text(each.share)
            parts.append(f"It may also be ({how}): {each.sentence}")
        return tuple(parts)

    @property
    def cells(self) -> Bytes | None:
        """What each node of the string is sent, in hanging order."""
        return lights_of(sent_codes(self._finding))

    @property
    def why(self) -> tuple[str, ...]:
        """What each answer left, and what the next would."""
        lines = why(self._finding)
        return (*lines, *self._dimmed_words)

    def answer(self, key: str) -> None:
        """Take an answer; the verdict is written down before it is told."""
        if key == LEAVE:
            self._is_left = True
            return
        if key == CORRECT:
            self._correct()
            return
        self._finding.answer(int(key))
        if self._finding.look is not None:
            return
        try:
            self._note(verdict_of(self._finding))
        except BaseException:
            self._finding.undo()
            raise

    def _note(self, verdict: Verdict) -> None:
        if verdict.is_certain:
            at, is_fault = _now(), not verdict.is_healthy
            self._written = self._write(
                found(self._display, self.port, verdict.sentence, at, is_fault=is_fault)
            )

    def _correct(self) -> None:
        nodes = verdict_of(self._finding).counted_nodes
        if self._file is None or nodes is None:
            return
        write_nodes(self._file, self.port, nodes)
        self._corrected_to = nodes
        display = load(self._file)
        self._rewritten(display)
        self._write(corrected(display, self.port, nodes, _now()))

    def _write(self, entry: Entry) -> Entry | None:
        if self._file is None:
            return None
        with closing(Logbook(logbook_path(self._file))) as book:
            (written,) = book.append(entry)
        return written

    def skip(self) -> bool:
        """Pass over nothing: in a search one cannot tell."""
        return False

    def undo(self) -> bool:
        """Take back the last answer, and what it had written in the logbook.

        PlanError once the display file was given another number: that is put back by hand.
        """
        if self._corrected_to is not None and self._file is not None:
            what = f"{self._corrected_to} nodes are written for {self.port}"
            raise PlanError(
                [Problem(self._file.name, what, "Change the number in the file, then search again")]
            )
        if self._written is not None:
            self._write(taken_back(self._written, _now()))
            self._written = None
        self._is_left = False
        return self._finding.undo()

    def close(self) -> None:
        """Nothing is open."""


def _now() -> datetime:
    return datetime.now(tz=UTC).astimezone()
