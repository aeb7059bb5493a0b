"""The logbook of a display for the sheet that shows it: what is open first, and a pen to add to it."""

from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from streamer.display.model import Display
from streamer.logbook.pens import penned
from streamer.logbook.records import Kind, Sort
from streamer.logbook.standing import Standing, Standings, State, standings
from streamer.logbook.store import Logbook, logbook_path, read_logbook
from streamer.logbook.text import GONE, NOTHING_OPEN
from streamer.logbook.wording import NEXT, events, name, summary, why


@dataclass(frozen=True, slots=True)
class Block:
    """One string or fixture, or the heading over several."""

    head: str
    lines: tuple[str, ...] = ()
    subject: str = ""
    """The name by which something can be noted about it; "" for a heading, and for what is gone."""
    is_heading: bool = False


class Logged:
    """The logbook beside a display file. LogbookError where it cannot be read or written."""

    def __init__(self, display: Display, display_file: Path) -> None:
        self._display, self.path = display, logbook_path(display_file)

    def read(self) -> tuple[str, tuple[Block, ...]]:
        """Return how everything stands in one line, and then one by one, the most urgent first."""
        now = standings(self._display, read_logbook(self.path))
        return summary(now), tuple(_blocks(now))

    def note(self, kind: Kind, subject: str, words: str) -> None:
        """Write down that something is fixed, or a note; it is on the disk when this returns."""
        entry = penned(self._display, kind, subject, words, datetime.now(tz=UTC).astimezone())
        with closing(Logbook(self.path)) as book:
            book.append(entry)


def _blocks(now: Standings) -> Iterator[Block]:
    if not now.punch_list:
        yield Block(NOTHING_OPEN, is_heading=True)
    for state in State:
        those = [each for each in now.all if each.state is state]
        if those:
            todo = (f"To do: {NEXT[state]}.",) if state in NEXT else ()
            yield Block(f"{state.capitalize()}: {len(those)}", todo, is_heading=True)
            yield from (_block(each, each.subject.name) for each in those)
    if now.gone:
        yield Block(GONE, is_heading=True)
        yield from (_block(each, "") for each in now.gone)


def _block(standing: Standing, subject: str) -> Block:
    kind = "fixture " if standing.subject.sort is Sort.FIXTURE else ""
    told = why(standing)
    lines = [f"{at}  {what}" for at, what in events(standing)]
    return Block(kind + name(standing), (*lines, *((told,) if told else ())), subject)
