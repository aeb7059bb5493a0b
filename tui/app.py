"""The app: the actions that open sheets, choose ports, play with the yard, and remember."""

import random
from collections.abc import Callable
from functools import partial
from pathlib import Path

from textual.screen import Screen

from streamer.engine.messages import Setup
from streamer.errors import RopewalkError
from streamer.yard.faults import Fault
from tui import cautions
from tui.lights import Lights
from tui.memory import FILE, Memory, keep
from tui.plain import shown
from tui.screens.walk import Walk
from tui.session import Session
from tui.themes import DAY, NIGHT
from tui.widgets.lane import Lane


class RopewalkApp(Lights):
    """The terminal screen on one engine and, in the demo, on a yard.

    `setup` and `show` are what to begin with; nothing is sent before somebody presses Start, except
    with `plays_at_once`.
    """

    CSS_PATH = "app.tcss"
    opened_file: Path | None = None
    """The display file that the command line named."""
    chance = random.Random()  # noqa: S311  a surprise, not a secret

    def get_default_screen(self) -> Screen[None]:
        """Return the main screen."""
        return Walk(self)

    def choose_port(self, name: str, *, is_only: bool) -> None:
        """Turn a port on or off; or only it on, and all again."""
        display = self.talk.setup.display if self.talk.setup else None
        every = tuple(each.name for each in display.ports) if display else ()
        chosen = every if self.talk.show.ports is None else self.talk.show.ports
        if is_only:
            wished = every if chosen == (name,) else (name,)
        else:
            wished = tuple(each for each in every if (each in chosen) != (each == name))
        self.talk.change(ports=None if wished == every else wished)
        self.tell()

    def on_lane_tapped(self, event: Lane.Tapped) -> None:
        """Do as the keys do: a port on or off, or only it."""
        self.choose_port(event.port, is_only=event.is_only)

    def _choose_here(self, *, is_only: bool) -> None:
        here = self.lane.picture.here
        if here is not None:
            self.choose_port(here.port.name, is_only=is_only)

    def action_toggle_port(self) -> None:
        """Turn the port looked at on or off."""
        self._choose_here(is_only=False)

    def action_only_port(self) -> None:
        """Only the port looked at, or all."""
        self._choose_here(is_only=True)

    def action_row_up(self) -> None:
        """Look at the string above."""
        self.lane.look_at(self.lane.picture.cursor - 1, self.lane.picture.pinned)

    def action_row_down(self) -> None:
        """Look at the string below."""
        self.lane.look_at(self.lane.picture.cursor + 1, self.lane.picture.pinned)

    def action_mark_left(self) -> None:
        """Look at the node before."""
        self.lane.look_at(self.lane.picture.cursor, self.lane.picture.node - 1)

    def action_mark_right(self) -> None:
        """Look at the node after."""
        self.lane.look_at(self.lane.picture.cursor, self.lane.picture.node + 1)

    def action_zoom(self) -> None:
        """One node a cell, or whole strings."""
        self.lane.toggle_zoom()

    def action_blank(self) -> None:
        """Draw no lights, or draw them again."""
        self.lane.toggle_blind()

    def action_arrivals(self) -> None:
        """Show arrivals in the next way."""
        self.notify(f"Arrivals are shown {self.lane.next_arrivals()}.", markup=False)

    def action_pattern(self) -> None:
        """Open the sheet for the pattern."""
        from patterns.plain import PatternError
        from tui.screens.look import Look

        try:
            self.push_screen(Look(self.talk, self.wish_level), lambda _kept: self._remember())
        except PatternError as error:
            self.talk.note(str(error))
        self.tell()

    def action_find(self) -> None:
        """Search for what is the matter with the port looked at."""
        from tui.finding import FindSession

        here, setup = self.lane.picture.here, self.talk.setup
        if here is not None and setup is not None:
            name, path = here.port.name, self.display_file
            self._ask_with_lights(
                f"Find: {shown(name)}",
                lambda level: FindSession(setup, name, level, path),
            )

    def action_prove(self) -> None:
        """Walk through the whole display."""
        from tui.proving import ProveSession

        setup, path = self.talk.setup, self.display_file
        if setup is not None:
            self._ask_with_lights("Prove", lambda level: ProveSession(setup, level, path))

    def _ask_with_lights(self, title: str, begin: Callable[[float], Session]) -> None:
        from tui.screens.asking import Asking

        level = self.talk.show.level_percent

        def open_sheet() -> None:
            self.push_screen(Asking(self.talk, title, lambda: begin(level)), lambda _none: self.tell())

        self._with_cautions(open_sheet)

    def action_night(self) -> None:
        """Begin a night run, or see how it stands."""
        from tui import nights
        from tui.screens.night import NightSheet

        setup, level = self.talk.setup, self.talk.show.level_percent
        try:
            file = nights.need_file(self.display_file)
        except RopewalkError as error:
            self.talk.note(str(error))
            self.tell()
            return

        def begin(until: str, programme: str) -> None:
            if setup is not None:
                # Two runs on the same universes would disturb each other.
                self.talk.stop()
                nights.begin(file, setup, level, until, programme)

        sheet = NightSheet(file, begin, lambda: nights.end(file), nights.last_words)

        def open_sheet() -> None:
            self.push_screen(sheet, lambda _none: self.tell())

        self._with_cautions(open_sheet)

    def _with_cautions(self, open_sheet: Callable[[], None]) -> None:
        """Open what lights the lights, after the cautions and full power where they apply."""
        level = self.talk.show.level_percent

        def power() -> None:
            if level > cautions.FULL_POWER_PERCENT:
                question = f"Level {level:g} %. {cautions.FULL_POWER}"
                self.with_agreement("Full power", question, open_sheet)
            else:
                open_sheet()

        if self.talk.setup is not None and cautions.is_real(self.talk.setup):
            self.with_agreement("Before the lights", cautions.text(), power)
        else:
            power()

    @property
    def display_file(self) -> Path | None:
        """The file that the display came from, beside which its logbook is; None for any other display."""
        from streamer.display.file import load

        chosen = Path(self.memory.display_file).expanduser() if self.memory.source == FILE else None
        for path in filter(None, (self.opened_file, chosen)):
            try:
                is_it = self.talk.setup is not None and load(path) == self.talk.setup.display
            except RopewalkError:
                continue
            if is_it:
                return path
        return None

    def action_display(self) -> None:
        """Open the sheet for the display and the destinations."""
        from tui.screens.place import PlaceSheet

        self.push_screen(PlaceSheet(self.memory, self.talk.setup, self._interfaces), self._use)

    action_choose = action_display

    def _use(self, answer: tuple[Setup, Memory] | None) -> None:
        if answer is not None:
            setup, self.memory = answer
            self.talk.choose(setup)
            self._remember()
        self.tell()

    def _interfaces(self) -> tuple[str, ...]:
        from streamer.net.interfaces import list_interfaces

        try:
            return tuple(each.name for each in list_interfaces() if each.is_up)
        except (RopewalkError, OSError) as error:
            self.talk.note(f"The interfaces cannot be listed: {error}")
            return ()

    def action_fault(self) -> None:
        """Open the sheet for faults."""
        from tui.screens.faults import Faults

        here = self.lane.picture.here
        if self.talk.setup is not None and here is not None:
            self.push_screen(Faults(self.talk.setup.display.ports, here.port, self.chance), self._give)

    def _give(self, given: tuple[str, Fault] | None) -> None:
        if given is not None:
            self.talk.set_faults(given[0], (given[1],))

    def action_surprise(self) -> None:
        """Hide a fault somewhere."""
        from tui.fault_kinds import surprise

        if self.talk.setup is not None and self.talk.setup.display.ports:
            port, fault = surprise(self.talk.setup.display.ports, self.chance)
            self.talk.set_faults(port.name, (fault,))
            self.is_revealed = False
            self.tell()
            self.notify("Something is wrong in the yard now. r tells what, h heals it.", markup=False)

    def action_reveal(self) -> None:
        """Show the yard's faults, or hide them."""
        self.is_revealed = not self.is_revealed
        self.tell()

    def action_heal(self) -> None:
        """Take every fault away."""
        for port in self.talk.arrivals.ports if self.talk.arrivals else ():
            if port.faults:
                self.talk.set_faults(port.name, ())

    def action_take(self) -> None:
        """Take control."""
        self.talk.take()

    def action_leash(self) -> None:
        """Ask for the other leash."""
        self.talk.toggle_leash()
        self.tell()

    def action_figures(self) -> None:
        """Open the figures of the run."""
        from tui.screens.figures import FigureSheet

        self.push_screen(FigureSheet())

    def action_plan(self) -> None:
        """Open the plan of the display in hand, at the level wished for and for the frame sent now."""
        from tui.planning import Planned, planned
        from tui.screens.plan import PlanSheet

        setup = self.talk.setup
        if setup is None:
            return

        def ask() -> Callable[[], Planned]:
            sent, show = self.lane.picture.sent, self.talk.show
            nodes = None if sent is None else sent.nodes
            return partial(planned, setup, show.level_percent, show.rate_hz, nodes)

        self.push_screen(PlanSheet(ask))

    def action_report(self) -> None:
        """Open the report of the last night run of the display file in hand."""
        from tui.reporting import reported
        from tui.screens.report import ReportSheet

        path = self.display_file or self.opened_file
        if path is None:
            self.notify(
                "A night's journal is beside a display file: this display is from none.", markup=False
            )
        else:
            self.push_screen(ReportSheet(partial(reported, path)))

    def action_scan(self) -> None:
        """Ask who is on the network, and compare with the display in hand."""
        from tui.scanning import scanned
        from tui.screens.scan import ScanSheet

        self.push_screen(ScanSheet(partial(scanned, self.talk.setup)))

    def action_words(self) -> None:
        """Open everything that went wrong."""
        from tui.screens.words import Words

        self.push_screen(Words(self.talk.words))

    def action_copy(self) -> None:
        """Copy the address of the node looked at."""
        from tui.widgets.tag import Tag

        here = self.lane.picture.here
        if here is not None:
            who, where, _light = self.screen_stack[0].query_one(Tag).sentences(self.lane, here)
            self.copy_to_clipboard(f"{who}: {where}")
            self.notify("Copied, if the terminal allows it.", markup=False)

    def action_theme(self) -> None:
        """Night or day."""
        self.theme = DAY if self.theme == NIGHT else NIGHT
        self._remember()

    def action_more(self) -> None:
        """Open the command palette."""
        self.action_command_palette()

    def action_help(self) -> None:
        """Open the help."""
        from tui.screens.help import Help

        self.push_screen(Help())

    def _remember(self) -> None:
        self.memory.theme, self.memory.pattern = self.theme, self.talk.show.pattern
        try:
            keep(self.memory)
        except (RopewalkError, OSError) as error:
            self.talk.note(f"The choices cannot be kept: {error}")
        self.tell()
