"""The walk through the display as a session of the asking sheet; without a display file, in memory only."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from streamer.engine.messages import Setup
from streamer.logbook.records import Entry
from streamer.logbook.store import Logbook, logbook_path
from streamer.prove.noted import Book, NotedWalk
from streamer.prove.walk import Proof
from tui.plain import shown
from tui.session import Look, Page

if TYPE_CHECKING:
    from patterns.plain import Bytes

IN_MEMORY = "There is no display file: what you answer is kept only until this sheet closes."


class MemoryBook:
    """A logbook that nothing remains of."""

    def __init__(self) -> None:
        self._entries: list[Entry] = []

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Keep entries and return them numbered."""
        first = len(self._entries) + 1
        numbered = tuple(
            each.model_copy(update={"number": number}) for number, each in enumerate(entries, first)
        )
        self._entries += numbered
        return numbered

    def entries(self) -> tuple[Entry, ...]:
        """Return all that is kept."""
        return tuple(self._entries)


class ProveSession:
    """One walk, taken up where it was left. LogbookError where the logbook cannot be had."""

    def __init__(self, setup: Setup, level_percent: float, display_file: Path | None) -> None:
        self._setup = setup.model_copy(update={"as_hung": setup.display})
        self._level_percent = level_percent
        self._path = display_file and logbook_path(display_file)
        self._book: Book | None = None
        self._noted: NotedWalk | None = None

    @property
    def noted(self) -> NotedWalk:
        """The walk; its logbook is opened when first asked for, in the thread that uses it."""
        if self._noted is None:
            self._book = Logbook(self._path) if self._path else MemoryBook()
            self._noted = NotedWalk(self._setup.display, self._book)
        return self._noted

    @property
    def look(self) -> Look | None:
        """The pattern to put up, held at its step."""
        check = self.noted.walk.current
        if check is None:
            return None
        return Look(self._setup, check.look.show(self._level_percent), check.look.step)

    @property
    def page(self) -> Page:
        """The question, or how everything stands."""
        walk = self.noted.walk
        number, total = walk.position
        check = walk.current
        where = f"{shown(check.subject.name)} {shown(check.label)}".strip() if check else ""
        return Page(
            place=f"Look {number} of {total}",
            done=1.0 if check is None else (number - 1) / max(1, total),
            told=where,
            headline=check.subject.name if check else "",
            question=check.question if check else "",
            answers=tuple((each.key, each.text) for each in check.answers) if check else (),
            watched=(check.subject.name,) if check else (),
            possible=(f"Noted in {shown(self._path.name)}." if self._path else IN_MEMORY,),
            outcome=() if check else self._outcome(),
        )

    def _outcome(self) -> tuple[str, ...]:
        proofs = self.noted.walk.proofs
        counts = ", ".join(f"{list(proofs.values()).count(each)} {each}" for each in Proof)
        return (f"The walk is over: {counts}.", *self.why)

    @property
    def cells(self) -> "Bytes | None":
        """Not one string alone."""
        return None

    @property
    def why(self) -> tuple[str, ...]:
        """How everything stands."""
        walk = self.noted.walk
        faults = {each.subject: each for each in walk.taken if each.verdict and each.answer}
        lines = []
        for subject, proof in walk.proofs.items():
            taken = faults.get(subject)
            found = taken.answer.text if taken and taken.answer and proof is Proof.AT_FAULT else ""
            lines.append(f"{shown(subject.name)}: {proof}" + (f": {shown(found)}" if found else ""))
        return tuple(lines)

    def answer(self, key: str) -> None:
        """Take an answer; it is on the disk when this returns."""
        self.noted.answer(key, _now())

    def skip(self) -> bool:
        """Pass over the string or fixture."""
        if self.noted.walk.is_over:
            return False
        self.noted.skip(_now())
        return True

    def undo(self) -> bool:
        """Take back the last step."""
        return self.noted.undo(_now()) is not None

    def close(self) -> None:
        """Close the logbook."""
        if isinstance(self._book, Logbook):
            self._book.close()


def _now() -> datetime:
    return datetime.now(tz=UTC).astimezone()
