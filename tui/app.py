"""The app: the actions that open sheets, choose ports, play with the yard, and remember."""

import random
from collections.abc import Callable
from functools import partial

from textual.screen import Screen

from streamer.engine.messages import Setup
from streamer.errors import RopewalkError
from streamer.yard.faults import Fault
from tui.guided import Guided
from tui.memory import Memory
from tui.plain import shown
from tui.screens.walk import Walk
from tui.themes import DAY, NIGHT
from tui.widgets.lane import Lane


class RopewalkApp(Guided):
    """The terminal screen on one engine and, in the demo, on a yard.

    `setup` and `show` are what to begin with; nothing is sent before somebody presses Start, except
    with `plays_at_once`.
    """

    CSS_PATH = "app.tcss"
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
            self.push_screen(Look(self.talk, self.wish_level), lambda _kept: self.remember())
        except PatternError as error:
            self.talk.note(str(error))
        self.tell()

    def action_display(self) -> None:
        """Open the sheet for the display and the destinations."""
        from tui.screens.place import PlaceSheet

        self.push_screen(
            PlaceSheet(self.memory, self.talk.setup, self._interfaces, self.display_file), self._use
        )

    action_choose = action_display

    def _use(self, answer: tuple[Setup, Memory] | None) -> None:
        if answer is not None:
            setup, self.memory = answer
            self.talk.choose(setup)
            self.remember()
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
        if self.is_revealed:
            ports = self.talk.arrivals.ports if self.talk.arrivals else ()
            told = [shown(f"{each.name}: {', '.join(each.faults)}") for each in ports if each.faults]
            self.notify("\n".join(told) or "Nothing is wrong in the yard.", markup=False)

    def action_heal(self) -> None:
        """Take every fault away."""
        for port in self.talk.arrivals.ports if self.talk.arrivals else ():
            if port.faults:
                self.talk.set_faults(port.name, ())

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

    def action_scan(self) -> None:
        """Ask who is on the network, and compare with the display in hand."""
        from tui.scanning import scanned
        from tui.screens.scan import ScanSheet

        plan = self.talk.plan
        self.push_screen(ScanSheet(partial(scanned, self.talk.setup, plan.cid if plan else "")))

    def action_doctor(self) -> None:
        """Look for what is broken between here and the controllers of the display in hand."""
        from tui.doctoring import checks
        from tui.screens.doctor import DoctorSheet

        setup, plan = self.talk.setup, self.talk.plan
        if setup is not None:
            self.push_screen(DoctorSheet(partial(checks, setup, plan.cid if plan else "")))

    def action_hear(self) -> None:
        """Open what is on the wire."""
        from tui.screens.hear import HearSheet

        self.push_screen(HearSheet())

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
        self.remember()

    def action_more(self) -> None:
        """Open the command palette."""
        self.action_command_palette()

    def action_help(self) -> None:
        """Open the help."""
        from tui.screens.help import Help

        self.push_screen(Help())
