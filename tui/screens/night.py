"""The night run: asks until when, begins it, and shows how it stands. It goes on when the screen closes."""

import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import ClassVar, Protocol

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Input, Static

from streamer.cli.common import ANYWAY
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT
from streamer.errors import RopewalkError
from streamer.soak.programme import ALL_LEVEL_PERCENT
from streamer.soak.seen import Seen, seen
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.widgets.keycap import Keycap

LOOK_EACH_S = 1.0
USUAL_UNTIL = "06:00"
NARROWEST = 20
MARGIN = 4
GOES_ON = "screen.go_on"
BESIDE = "screen.begin_beside"
TO_BE_DONE = (
    "End it in another terminal, then begin again. Or F6 begins beside it all the same: what the lights show "
    "then, no answer can rest on."
)
GO_ON = "F5 goes on in the same run, with the gap told. Enter begins another."
HOW = (
    "Plays white, changing loads, fast data and dark in turn, watches everything, writes it down, and goes "
    "on when this screen closes. In the morning: j, or ropewalk report."
)


class Begun(Protocol):
    """A night run that was begun from here, as its command tells of it."""

    @property
    def last_words(self) -> str:
        """Why it cannot begin, or what it told last."""

    @property
    def is_beside_another(self) -> bool:
        """Whether it did not begin, since another run sends to the same place."""


class NightSheet(Sheet[None]):
    """Looks into the journal once a second. `begin`, `go_on` and `end` do so, or raise RopewalkError."""

    title_text = "Night run"
    caps = (
        ("Enter", "Begin", "screen.begin"),
        ("F5", "Go on", GOES_ON),
        ("F6", "Beside it", BESIDE),
        ("F9", "End it", "screen.end"),
        ("Esc", "Back", "screen.back_out"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "begin", "Begin", show=False, priority=True),
        Binding("f5", "go_on", "Go on", show=False, priority=True),
        Binding("f6", "begin_beside", "Beside it", show=False, priority=True),
        Binding("f9", "end", "End it", show=False, priority=True),
    ]

    def __init__(  # noqa: PLR0913, PLR0917  what the sheet does and tells
        self,
        file: Path,
        begin: Callable[[str, str, bool], Begun | None],
        go_on: Callable[[bool], Begun],
        end: Callable[[], None],
        level_percent: float = LEVEL_DEFAULT_PERCENT,
        now_unix_s: Callable[[], float] = time.time,
    ) -> None:
        super().__init__()
        self._level_percent = level_percent
        self._file, self._begin, self._go_on, self._end = file, begin, go_on, end
        self._now_unix_s = now_unix_s
        self._begun: Begun | None = None
        """What was begun here, until its journal tells of it."""
        self._number = self._number_before = 0
        """Of the last run in the journal: now, and when one was begun here."""
        self._refused = ""
        self._tried: Callable[[bool], Begun | None] | None = None
        """How it was begun last, or gone on with: to be told whether beside another run."""

    def body(self) -> Iterable[Widget]:
        """Return what is asked, and how it stands."""
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Static(Content(f"{HOW} {self._at_level()}"), id="night-how")
            yield Static(Content("until, or for how long: 06:00, 8h, 10m"), classes="night-asked")
            yield Input(USUAL_UNTIL, id="until", compact=True, classes="night-asked")
            yield Static(Content("programme"), classes="night-asked")
            yield Input("", placeholder="all parts; such as: full:4m,dark", id="programme", compact=True)
            yield Static(id="stands")

    def _at_level(self) -> str:
        level = f"It goes at the level in hand, {self._level_percent:g} %"
        if self._level_percent >= ALL_LEVEL_PERCENT:
            return f"{level}."
        return f"{level}: supplies are not heated as by a full show. For that raise it first, with +."

    def on_mount(self) -> None:
        """Look at once, and then each second."""
        self.query_one("#until", Input).focus()
        self._look()
        self.set_interval(LOOK_EACH_S, self._look)

    def action_begin(self) -> None:
        """Begin it, with all that was typed."""
        self.once_typed(self._begin_as_written)

    def _begin_as_written(self) -> None:
        until, programme = (self.query_one(f"#{field}", Input).value for field in ("until", "programme"))
        self._try(lambda anyway: self._begin(until, programme, anyway), anyway=False)

    def action_go_on(self) -> None:
        """Go on in the run that was broken off."""
        self._try(self._go_on, anyway=False)

    def action_begin_beside(self) -> None:
        """Do what was refused because another run sends to the same place."""
        if self._tried is not None and self._is_rival_told:
            self._try(self._tried, anyway=True)

    def _try(self, how: Callable[[bool], Begun | None], *, anyway: bool) -> None:
        self._tried, self._number_before, self._begun = how, self._number, None

        def begin() -> None:
            self._begun = how(anyway)

        self._do(begin)

    @property
    def _is_rival_told(self) -> bool:
        return self._begun is not None and self._begun.is_beside_another

    def action_end(self) -> None:
        """End it: dark, streams ended."""
        self._do(self._end)

    def _do(self, what: Callable[[], None]) -> None:
        self._refused = ""
        try:
            what()
        except RopewalkError as error:
            self._refused = f"! {error}"
        self._look()

    def _look(self) -> None:
        try:
            night = seen(self._file, self._now_unix_s())
        except RopewalkError as error:
            self.query_one("#stands", Static).update(Content(f"! {shown(str(error))}"))
            return
        self._number = night.run.number if night else 0
        # One that has ended since says itself why.
        has_ended = night is not None and night.run.ended and self._number > self._number_before
        if has_ended or (night and night.is_running):
            self._begun = None
        # Once it was tried, what came of that has the room: at 40 columns there is not enough for both.
        is_new = self._tried is None and (night is None or not (night.is_running or night.may_go_on))
        self.query_one("#night-how").display = is_new
        may = {GOES_ON: night is not None and night.may_go_on, BESIDE: self._is_rival_told}
        for cap in self.query(Keycap):
            cap.display = may.get(cap.does, True)
        lines = self._lines(night)
        self.query_one("#stands", Static).update(Content("\n".join(map(shown, lines))))

    def _lines(self, night: Seen | None) -> list[str]:
        width = max(NARROWEST, self.size.width - MARGIN)
        lines = [] if night is None else [f"Run {night.run.number}:", *night.lines(width)]
        if night is not None and night.may_go_on and self._begun is None:
            lines.append(GO_ON)
        if self._begun is not None:
            lines += self._begun.last_words.removesuffix(ANYWAY).splitlines() or ["Beginning..."]
            lines += [TO_BE_DONE] if self._is_rival_told else []
        lines += [self._refused] if self._refused else []
        return lines or ["No night run of this display so far."]
