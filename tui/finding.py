"""The guided search on one port as a session of the asking sheet; a certain verdict goes into the logbook."""

from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from patterns.colours import FULL
from patterns.plain import COMPONENTS, Bytes
from streamer.engine.messages import Setup, Show
from streamer.find.asking import question_of, sent_codes, shown_words
from streamer.find.finding import Bench, Finding
from streamer.find.safe_level import safe_level_percent
from streamer.find.telling import Teller
from streamer.find.verdict import Verdict, certainty_text, verdict_of
from streamer.find.why import why
from streamer.logbook.findings import found
from streamer.logbook.records import Entry, Kind, Sort
from streamer.logbook.store import Logbook, logbook_path
from tui.session import Look, Page

PICTURE = "picture"
POSSIBLE_MOST = 3
NO_BOOK = "There is no display file, so this is in no logbook."


class FindSession:
    """One search. PlanError where the display has no such port; making it may take a second."""

    def __init__(self, setup: Setup, port: str, level_percent: float, display_file: Path | None) -> None:
        self._display, self._file = setup.display, display_file
        self._level_percent = min(level_percent, safe_level_percent(setup.display))
        self._bench = Bench(setup.display, port)
        self._setup = setup.model_copy(update={"display": self._bench.canvas})
        self._finding = Finding(self._bench)
        self._written: int | None = None

    @property
    def look(self) -> Look | None:
        """The still picture to put up."""
        if self._finding.look is None:
            return None
        nodes = self._finding.nodes
        show = Show(pattern=PICTURE, params={"nodes": nodes}, level_percent=self._level_percent)
        return Look(self._setup, show)

    @property
    def page(self) -> Page:
        """The question, or the verdict."""
        finding = self._finding
        return Page(
            place=f"Look {len(finding.steps) + 1}" if finding.look else f"After {len(finding.steps)} looks",
            done=finding.progress,
            told=shown_words(finding),
            question=question_of(finding),
            answers=tuple((str(int(each.answer)), each.words) for each in finding.choices),
            sure=finding.certainty,
            certainty=certainty_text(finding.certainty),
            possible=self._possible(),
            outcome=() if finding.look else self._outcome(verdict_of(finding)),
        )

    def _possible(self) -> tuple[str, ...]:
        thinking = self._bench.thinking
        teller = Teller(thinking.display, thinking.port.name)
        return tuple(
            f"{certainty_text(each.share)}  {teller.sentence(each.row)}"
            for each in self._finding.possibilities(most=POSSIBLE_MOST)
        )

    def _outcome(self, verdict: Verdict) -> tuple[str, ...]:
        noted = ""
        if verdict.is_certain:
            noted = " Noted in the logbook." if self._written else f" {NO_BOOK}"
        parts = [verdict.sentence, f"{certainty_text(verdict.certainty)} sure.{noted}"]
        if not verdict.is_healthy:
            parts += [f"{number}. {check}" for number, check in enumerate(verdict.checks, 1)]
        for each in verdict.remains:
            how = "looks the same" if each.looks_the_same else certainty_text(each.share)
            parts.append(f"It may also be ({how}): {each.sentence}")
        return tuple(parts)

    @property
    def cells(self) -> Bytes | None:
        """What each node of the string is sent, in hanging order."""
        codes = sent_codes(self._finding)
        bits = codes[:, None] >> np.arange(COMPONENTS, dtype=np.uint8) & 1
        return np.asarray(bits * FULL, np.uint8)

    @property
    def why(self) -> tuple[str, ...]:
        """What each answer left, and what the next would."""
        return why(self._finding)

    def answer(self, key: str) -> None:
        """Take an answer; the verdict is written down before it is told."""
        self._finding.answer(int(key))
        if self._finding.look is not None:
            return
        try:
            self._note(verdict_of(self._finding))
        except BaseException:
            self._finding.undo()
            raise

    def _note(self, verdict: Verdict) -> None:
        if self._file is None or not verdict.is_certain:
            return
        port, at = self._bench.thinking.port.name, datetime.now(tz=UTC).astimezone()
        self._write(found(self._display, port, verdict.sentence, at, is_fault=not verdict.is_healthy))

    def _write(self, entry: Entry) -> None:
        if self._file is not None:
            with closing(Logbook(logbook_path(self._file))) as book:
                (written,) = book.append(entry)
            self._written = written.number

    def skip(self) -> bool:
        """Pass over nothing: in a search one cannot tell."""
        return False

    def undo(self) -> bool:
        """Take back the last answer, and what it had written."""
        if self._written is not None:
            subject = self._bench.thinking.port.name
            slip, at = self._written, datetime.now(tz=UTC).astimezone()
            self._write(Entry(at=at, kind=Kind.UNDONE, sort=Sort.STRING, name=subject, undoes=slip))
            self._written = None
        return self._finding.undo()

    def close(self) -> None:
        """Nothing is open."""
