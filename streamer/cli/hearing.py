"""What `ropewalk hear` does: its options as a wish, and what is heard as lines, a table or JSON."""

import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

from streamer.cli.common import say, say_json
from streamer.cli.heard import Canvas, events, table
from streamer.cli.levels import watched_lines
from streamer.display.file import load
from streamer.display.model import SLOTS_PER_UNIVERSE, Protocol
from streamer.display.places import shown
from streamer.display.ranges import parse_ranges
from streamer.errors import PlanError, Problem
from streamer.hear.messages import Heard, Watch
from streamer.hear.process import run
from streamer.hear.table import Table
from streamer.hear.wish import Wish, universes_of

WATCH_HELP = "Write a universe, or a universe and a slot: --watch 7 or --watch 7/104"


@dataclass(frozen=True, slots=True)
class Asked:
    """The options of the command, checked one by one but not yet together."""

    file: Path | None
    ranges: str | None
    protocol: str | None
    interface: str | None
    discover: bool
    seconds: float | None
    watch: str | None
    as_json: bool

    def wish(self) -> Wish:
        """Return what to listen to; PlanError with what is wrong."""
        if self.file is not None and self.ranges is not None:
            what = "there is a display FILE and universes with -u"
            raise PlanError([Problem("hear", what, "Take out one of the two")])
        only = Protocol(self.protocol) if self.protocol else None
        universes = universes_of(load(self.file)) if self.file else {}
        if self.ranges is not None:
            meant = only or Protocol.E131
            universes = {meant: parse_ranges(self.ranges, meant)}
        return Wish(
            universes=universes,
            protocols=(only,) if only else tuple(Protocol),
            interface=self.interface,
            # Asked for nothing in particular, whatever is there is meant.
            discover=self.discover or not universes,
        )

    def watched(self) -> Watch | None:
        """Return what is to be looked at closely; PlanError when there is no such thing."""
        if self.watch is None:
            return None
        protocol = Protocol(self.protocol or Protocol.E131)
        universe, slash, slot = self.watch.partition("/")
        try:
            (number,) = parse_ranges(universe, protocol)
            chosen = int(slot) if slash else None
        except (PlanError, ValueError) as error:
            what = f"{shown(self.watch)} is no universe, and no slot of one"
            raise PlanError([Problem("--watch", what, WATCH_HELP)]) from error
        if chosen is not None and not 1 <= chosen <= SLOTS_PER_UNIVERSE:
            what = f"there is no slot {chosen}"
            raise PlanError([Problem("--watch", what, f"Slots count from 1 to {SLOTS_PER_UNIVERSE}")])
        return Watch(protocol=protocol, universe=number, slot=chosen)


def listen(wish: Wish, watched: Watch | None, asked: Asked) -> bool:
    """Listen until the time is up or the end is asked for, and say what is heard; whether anything was."""

    def prepare(heard_in: Table) -> None:
        if watched:
            heard_in.watch(watched.protocol, watched.universe, watched.slot)

    is_terminal = sys.stdout is not None and sys.stdout.isatty()
    teller = _Json() if asked.as_json else _Screen() if is_terminal else _Lines()
    last = run(wish, out=teller.tell, prepare=prepare, seconds=asked.seconds)
    teller.end(last)
    return any(universe.sources for universe in last.universes)


class _Json:
    """A line a second, and one more at the end if there was none."""

    def __init__(self) -> None:
        self._has_told = False

    def tell(self, heard: Heard) -> None:
        """Print a line."""
        self._has_told = True
        say_json(heard.model_dump(mode="json", exclude={"kind"}))

    def end(self, heard: Heard) -> None:
        """Print the only line of a short run."""
        if not self._has_told:
            self.tell(heard)


class _Lines:
    """What happens, a line each; the table at the end: for pipes and files."""

    def __init__(self) -> None:
        self._before: Heard | None = None

    def tell(self, heard: Heard) -> None:
        """Print what is new since the last time."""
        for line in events(self._before, heard):
            say(line)
        self._before = heard

    def end(self, heard: Heard) -> None:
        """Print the table."""
        self.tell(heard)
        for line in (*table(heard), *watched_lines(heard)):
            say(line)


class _Screen:
    """The table, drawn over the one before."""

    def __init__(self) -> None:
        self._canvas = Canvas()

    def tell(self, heard: Heard) -> None:
        """Draw the table."""
        columns = shutil.get_terminal_size().columns
        self._canvas.draw([*table(heard, columns)], [*watched_lines(heard, columns)])

    def end(self, heard: Heard) -> None:
        """Draw it for the last time."""
        self.tell(heard)
