"""The actions that lead through something: find, prove, the logbook, and the night."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from streamer.display.model import Display
from streamer.engine.messages import LOOK_LOW_PERCENT, Setup
from streamer.errors import RopewalkError
from tui.lights import Lights
from tui.memory import FILE, keep
from tui.plain import shown
from tui.session import Session

if TYPE_CHECKING:
    from tui.screens.wrong import Wanted

NO_FILE = (
    "A logbook is kept beside a display file, and this display is in none. Press d and choose a file; "
    "a new one: ropewalk new display.toml"
)

TOO_DIM = "At a level of {:g} % no look can be seen, and no answer would be true. Raise it first, with +."


class Guided(Lights):
    """Opens the sheets that lead through something."""

    opened_file: Path | None = None
    """The display file that the command line named."""

    def action_find(self) -> None:
        """Search for what is the matter with the port looked at, or with all."""
        from tui.screens.wrong import Wrong

        here, setup = self.lane.picture.here, self.talk.setup
        if here is None or setup is None:
            return

        def begin(wanted: "Wanted | None") -> None:
            if wanted is not None:
                self.memory = self.memory.model_copy(update={"eyes": wanted.eyes})
                self.remember()
                self._ask_with_lights("Find", lambda level: self._searching(setup, wanted, level))

        ports = tuple(each.name for each in setup.display.ports)
        self.push_screen(Wrong(ports, here.port.name, self.memory.eyes), begin)

    def _searching(self, setup: Setup, wanted: "Wanted", level: float) -> Session:
        from streamer.find.suspects import terms_of
        from tui.finding import FindSession
        from tui.rounds import RoundSession

        def search(setup: Setup, port: str, rewritten: Callable[[Display], None]) -> FindSession:
            return FindSession(setup, port, level, path, terms, rewritten)

        path, terms = self.display_file, terms_of(wanted.suspect, wanted.eyes)
        if wanted.is_round:
            return RoundSession(setup, wanted.ports, search, self.talk.take_anew)
        return search(setup, wanted.ports[0], self.talk.take_anew)

    def action_prove(self) -> None:
        """Walk through the whole display."""
        from tui.proving import ProveSession

        setup, path = self.talk.setup, self.display_file
        if setup is not None:
            self._ask_with_lights("Prove", lambda level: ProveSession(setup, level, path))

    def _ask_with_lights(self, title: str, begin: Callable[[float], Session]) -> None:
        from streamer.engine.rivals import WIDEST
        from tui.screens.asking import Asking

        level = self.talk.show.level_percent
        if level < LOOK_LOW_PERCENT:
            self.talk.note(TOO_DIM.format(level))
            self.tell()
            return

        def open_sheet() -> None:
            self.talk.move_on()
            self.push_screen(Asking(self.talk, title, lambda: begin(level)), lambda _none: self.tell())

        self.with_all_agreed(level, WIDEST, open_sheet)

    def action_dark(self) -> None:
        """All dark, or back. Where this screen lights nothing, a night run of its display is ended."""
        if self.talk.is_playing or not self._end_night():
            super().action_dark()

    action_dark_by_space = action_dark

    def _end_night(self) -> bool:
        """End the night run of this display, if one goes on, and say whether there was one."""
        from tui import nights

        file = self.display_file
        try:
            if file is None or not nights.is_on(file):
                return False
            nights.end(file)
        except RopewalkError as error:
            self.talk.note(str(error))
        else:
            self.talk.note("All dark: that ended the night run. F4 begins another.")
        self.tell()
        return True

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

        def begin(
            until: str,
            programme: str,
            anyway: bool,  # noqa: FBT001  as the sheet says it
        ) -> nights.Begun | None:
            if setup is None:
                return None
            # Two runs on the same universes would disturb each other.
            if self.talk.is_playing:
                self.talk.stop()
            return nights.begin(file, setup, level, until, programme, anyway=anyway)

        def go_on(anyway: bool) -> nights.Begun:  # noqa: FBT001  the same
            if self.talk.is_playing:
                self.talk.stop()
            return nights.go_on(file, anyway=anyway)

        sheet = NightSheet(file, begin, go_on, lambda: nights.end(file), level)

        def open_sheet() -> None:
            self.push_screen(sheet, lambda _none: self.tell())

        self.with_cautions(level, open_sheet)

    def action_log(self) -> None:
        """Open the logbook beside the display file."""
        from tui.logged import Logged
        from tui.screens.log import LogSheet

        path, setup = self.display_file, self.talk.setup
        if path is None or setup is None:
            self.talk.note(NO_FILE)
            self.tell()
        else:
            self.push_screen(LogSheet(Logged(setup.display, path)))

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

    def remember(self) -> None:
        """Keep the choices for the next time."""
        self.memory.theme, self.memory.pattern = self.theme, self.talk.show.pattern
        try:
            keep(self.memory)
        except (RopewalkError, OSError) as error:
            self.talk.note(shown(f"The choices cannot be kept: {error}"))
        self.tell()
