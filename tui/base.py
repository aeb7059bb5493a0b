"""What the app stands on: the conversation with engine and yard, the themes, what can be done when."""

import asyncio
import os
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from typing import ClassVar, TypeVar

from rich.console import RenderableType
from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.command import Provider
from textual.reactive import reactive
from textual.screen import Screen
from textual.widgets import Input

from streamer.engine.client import EngineLink, client_name
from streamer.engine.messages import Setup, Show
from streamer.errors import LinkError, RopewalkError
from streamer.yard.client import YardLink
from tui.actions import ACTIONS, BY_NAME, GONE, IDLE, NO_DISPLAY, TYPING, bindings, keys_of
from tui.choosing import setup_of
from tui.memory import Memory, recall
from tui.outlook import Outlook
from tui.talk import Talk
from tui.themes import NIGHT, OWN_VARIABLES, THEMES
from tui.widgets.dial import Dial
from tui.widgets.lane import Lane

Link = TypeVar("Link", EngineLink, YardLink)

FIRST_PATTERN = "walk"
CRASHED = 1
OUTLOOK_S = 0.25
"""Between looks at what the listener says, which is once a second."""


def palette() -> type[Provider]:
    """Return what fills the command palette; loaded when that is opened first."""
    from tui.palette import Everything

    return Everything


class Base(App[int]):
    """Listens, tells the widgets, and knows which actions can be done; `tui.lights` and `tui.app` do them."""

    TITLE = "Ropewalk"
    COMMAND_PALETTE_BINDING = "ctrl+p"
    COMMANDS = {palette}  # noqa: RUF012  Textual's own, typed there
    BINDINGS: ClassVar[list[BindingType]] = bindings()
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012  Textual's own, typed there
        (0, "-slim"),
        (60, "-plain"),
        (100, "-wide"),
        (140, "-broad"),
    ]
    VERTICAL_BREAKPOINTS = [(0, "-flat"), (16, "-low"), (36, "-tall")]  # noqa: RUF012  the same

    news: reactive[int] = reactive(0, init=False)
    """Counts up whenever anything that is shown may have changed."""
    typed: reactive[str] = reactive("", init=False)
    """The digits of a step, while they are being typed."""

    def __init__(
        self,
        link: EngineLink | Future[EngineLink],
        setup: Setup | None = None,
        show: Show | None = None,
        yard: YardLink | Future[YardLink] | None = None,
        *,
        plays_at_once: bool = False,
    ) -> None:
        super().__init__()
        self.memory, trouble = _recalled()
        self.talk = Talk(None, setup, show or Show(pattern=self.memory.pattern or FIRST_PATTERN))
        if trouble:
            self.talk.note(trouble)
        self._engine, self._yard, self._plays_at_once = link, yard, plays_at_once
        self.outlook = Outlook(client_name("screen"), f"screen-{os.getpid()}")
        self._watched: dict[str, int] = {}
        self.failure: RopewalkError | None = None
        """Why the engine or the yard did not come up; the screen ends then."""
        self.is_painted = False
        self.is_revealed = False
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = self.memory.theme if self.memory.theme in self.available_themes else NIGHT

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return the variables of the style sheet that other themes do not know."""
        return dict(OWN_VARIABLES)

    @property
    def mode(self) -> str:
        """The engine's state, or that a number is typed, nothing is chosen, or the engine has gone."""
        if not self.talk.is_engine_there:
            return GONE
        return TYPING if self.typed else self._mode_untyped

    @property
    def _mode_untyped(self) -> str:
        state = str(self.talk.status.state)
        return NO_DISPLAY if state == IDLE and self.talk.setup is None else state

    @property
    def is_text_typed(self) -> bool:
        """Whether a space now belongs to a text."""
        focused = self.focused
        return isinstance(focused, Input) or (isinstance(focused, Dial) and focused.takes_space)

    def on_mount(self) -> None:
        """Listen to the engine and the yard; play if that was asked for."""
        self._when_there(self._engine, self._meet_engine)
        if self._yard is not None:
            self._when_there(self._yard, self._meet_yard)
        self.tell()
        self.set_interval(OUTLOOK_S, self.look_out)
        self.call_after_refresh(self._painted)

    def _painted(self) -> None:
        self.is_painted = True
        if self.talk.setup is None and self.memory.source:
            try:
                self.talk.setup = setup_of(self.memory, None)
            except RopewalkError as error:
                self.talk.note(f"The display of the last time cannot be had. {error}")
        self.tell()

    def _when_there(self, coming: Link | Future[Link], meet: Callable[[Link], None]) -> None:
        """Meet now, or when it has come up: the screen is painted meanwhile."""
        if not isinstance(coming, Future):
            meet(coming)
            return
        loop = asyncio.get_running_loop()

        def arrived(done: Future[Link]) -> None:
            if not loop.is_closed():
                loop.call_soon_threadsafe(self._arrived, done, meet)

        # A screen that is left before it is whole would crash instead of telling why.
        self.call_after_refresh(coming.add_done_callback, arrived)

    def _arrived(self, done: Future[Link], meet: Callable[[Link], None]) -> None:
        try:
            link = done.result()
        except RopewalkError as error:
            self.failure = error
            self.exit(return_code=CRASHED)
        else:
            meet(link)
            self.tell()

    def _meet_engine(self, link: EngineLink) -> None:
        self.talk.meet(link)
        self._listen("engine", link.fileno(), self.hear)

    def _meet_yard(self, yard: YardLink) -> None:
        self.talk.yard = yard
        self._listen("yard", yard.fileno(), self.hear_yard)

    def _listen(self, name: str, descriptor: int, hear: Callable[[], None]) -> None:
        asyncio.get_running_loop().add_reader(descriptor, hear)
        self._watched[name] = descriptor
        is_all_there = len(self._watched) == (1 if self._yard is None else 2)
        if self._plays_at_once and is_all_there:
            self.talk.play()

    def hear(self) -> None:
        """Take in what the engine says."""
        if self.talk.hear():
            if not self.talk.is_playing:
                self.typed = ""
            self.tell()
        if not self.talk.is_engine_there:
            self._stop_listening("engine")

    def hear_yard(self) -> None:
        """Take in what the yard says."""
        if self.talk.hear_yard():
            self.tell()
        if self.talk.yard is None:
            self._stop_listening("yard")

    def look_out(self) -> None:
        """Take in what is heard of others."""
        if self.outlook.follow(self.talk):
            self.tell()

    def _stop_listening(self, name: str) -> None:
        asyncio.get_running_loop().remove_reader(self._watched[name])

    def on_unmount(self) -> None:
        """Detach. What becomes of the lights is the engine's business."""
        for descriptor in self._watched.values():
            asyncio.get_running_loop().remove_reader(descriptor)
        self.talk.close()
        self.outlook.close()

    def tell(self) -> None:
        """Let every widget look whether what it shows has changed."""
        self.news += 1
        # What is said in passing leaves the line in sight that says what is wrong.
        self.screen_stack[0].set_class(bool(self.talk.alarm), "-alarmed")

    def on_descendant_focus(self) -> None:
        """Name the dark key that works now: it is another one while text is typed."""
        self.tell()

    def watch_typed(self) -> None:
        """Show the digits."""
        self.tell()

    def panic(self, *renderables: RenderableType) -> None:
        """Leave with a status that tells a crash, wherever it began."""
        self._return_code = CRASHED
        super().panic(*renderables)

    def get_system_commands(self, screen: Screen[object]) -> Iterable[SystemCommand]:
        """Yield every action that can be done now, for the command palette."""
        del screen
        for action in ACTIONS:
            if self.check_action(action.name, ()):
                title = f"{action.label} ({action.written})"
                yield SystemCommand(title, action.tooltip, getattr(self, f"action_{action.name}"))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Return whether an action of the table can be done now."""
        known = BY_NAME.get(action)
        if known is None:
            return super().check_action(action, parameters)
        if action == "dark_by_space" and self.is_text_typed:
            return False
        if known.needs_yard and self.talk.yard is None:
            return False
        ends_typing = {"enter", "escape"} & set(keys_of(known))
        mode = self._mode_untyped if self.mode == TYPING and not ends_typing else self.mode
        return mode in known.modes

    @property
    def lane(self) -> Lane:
        """The lane of the main screen."""
        return self.screen_stack[0].query_one(Lane)


def _recalled() -> tuple[Memory, str]:
    try:
        return recall()
    except LinkError as error:
        return Memory(), str(error)
