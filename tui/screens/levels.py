"""The levels of one universe as they are heard: a cell a slot, and the history of one slot."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Sparkline, Static

from streamer.display.model import SLOTS_PER_UNIVERSE
from tui.host import Host, host_of
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.widgets.heard_text import Row, detail
from tui.widgets.level_strip import LEVEL_MAX, LevelStrip

if TYPE_CHECKING:
    from streamer.hear.messages import Heard, UniverseHeard, Watched

PERCENT = 100
ROOMY = 60
SCALE = "; the two bars at the left are 0 and 255"
COMING = "The first levels come within a second."


class LevelSheet(Sheet[None]):
    """Has the listener look closely at a universe while it is open; the arrows choose the slot."""

    caps = (("←→↑↓", "Slot", "screen.slot(1)"), ("Esc", "Back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "slot(-1)", "Slot before", show=False, priority=True),
        Binding("right", "slot(1)", "Slot after", show=False, priority=True),
        Binding("up", "row(-1)", "Row above", show=False, priority=True),
        Binding("down", "row(1)", "Row below", show=False, priority=True),
        Binding("home", "slot(-512)", "First", show=False, priority=True),
        Binding("end", "slot(512)", "Last", show=False, priority=True),
    ]

    def __init__(self, universe: "UniverseHeard") -> None:
        super().__init__()
        self._universe = universe
        self.title_text = f"Levels of {universe.text}"
        self._slot = 1
        self._told: tuple[Heard, int] | None = None

    def body(self) -> Iterable[Widget]:
        """Return the slot, its history, all slots, and who sends them."""
        with VerticalScroll(classes="sheet-body", can_focus=True):
            yield Static(Content(COMING), id="level-slot")
            yield Sparkline([], id="level-plot")
            yield LevelStrip()
            yield Static("", id="level-sources")

    @property
    def host(self) -> Host:
        """The app."""
        return host_of(self.app)

    def on_mount(self) -> None:
        """Begin to look."""
        self.query_one(VerticalScroll).focus()
        self._watch()
        self.watch(self.app, "news", self.renew)

    def on_unmount(self) -> None:
        """Look no longer."""
        self.host.outlook.watch(self._universe.protocol, None, None)

    def _watch(self) -> None:
        self.host.outlook.watch(self._universe.protocol, self._universe.universe, self._slot)

    def renew(self) -> None:
        """Show what is heard now."""
        heard = self.host.outlook.heard
        watched = heard.watched if heard else None
        where = (self._universe.protocol, self._universe.universe)
        if heard is None or watched is None or (watched.protocol, watched.universe) != where:
            return
        if self._told and self._told[0] is heard and self._told[1] == self._slot:
            return
        self._told = (heard, self._slot)
        self.query_one(LevelStrip).show(watched.levels, self._slot)
        self._tell_slot(watched)
        self._universe = next(
            (each for each in heard.universes if (each.protocol, each.universe) == where), self._universe
        )
        rows = [Row(self._universe, source) for source in self._universe.sources] or [
            Row(self._universe, None)
        ]
        text = "\n\n".join("\n".join(map(shown, detail(row))) for row in rows)
        self.query_one("#level-sources", Static).update(Content(f"\n{text}"))

    def _tell_slot(self, watched: "Watched") -> None:
        plot = self.query_one(Sparkline)
        level = watched.levels[self._slot - 1] if self._slot <= len(watched.levels) else None
        history = watched.history if watched.slot == self._slot else ()
        told = f"slot {self._slot}: "
        told += "no level" if level is None else f"{level}, {level * PERCENT / LEVEL_MAX:.0f} %"
        if history:
            levels = [each for _, each in history]
            seconds = history[-1][0] - history[0][0]
            told += SCALE if plot.size.width >= ROOMY else ""
            told += f"; in {seconds:.0f} s from {min(levels)} to {max(levels)}"
        self.query_one("#level-slot", Static).update(Content(told))
        plot.data = plotted([each for _, each in history], plot.size.width)

    def action_slot(self, by: int) -> None:
        """Look at another slot."""
        slot = max(1, min(SLOTS_PER_UNIVERSE, self._slot + by))
        if slot != self._slot:
            self._slot = slot
            self._watch()
            self.renew()

    def action_row(self, by: int) -> None:
        """Look at the slot above or below."""
        self.action_slot(by * self.query_one(LevelStrip).slots_per_row)


def plotted(history: list[int], cells: int) -> list[float]:
    """Return what a sparkline of so many cells is to draw: the scale's ends first, the newest at the right.

    A sparkline stretches its own smallest and largest value over its height; with both ends of the scale in
    it a level keeps its height.
    """
    room = max(1, cells - 2)
    per_cell = max(1, -(-len(history) // room))
    padding = [0] * (room * per_cell - len(history))
    return [float(each) for each in (*[0] * per_cell, *[LEVEL_MAX] * per_cell, *padding, *history)]
