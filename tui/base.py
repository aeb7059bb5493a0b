"""What the app stands on: the conversation with engine and yard, the themes, what can be done when."""

import asyncio
from collections.abc import Callable, Iterable
from typing import ClassVar

from rich.console import RenderableType
from textual.app import App, SystemCommand
from textual.binding import BindingType
from textual.reactive import reactive
from textual.screen import Screen
from textual.widgets import Input

from streamer.engine.client import EngineLink
from streamer.engine.messages import Setup, Show
from streamer.errors import LinkError, RopewalkError
from streamer.yard.client import YardLink
from tui.actions import ACTIONS, BY_NAME, GONE, TYPING, bindings, keys_of
from tui.choosing import setup_of
from tui.memory import Memory, recall
from tui.talk import Talk
from tui.themes import NIGHT, OWN_VARIABLES, THEMES
from tui.widgets.dial import Dial
from tui.widgets.lane import Lane

FIRST_PATTERN = "walk"
CRASHED = 1


class Base(App[int]):
    """Listens, tells the widgets, and knows which actions can be done; `tui.lights` and `tui.app` do them."""

    TITLE = "Ropewalk"
    COMMAND_PALETTE_BINDING = "ctrl+p"
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
        link: EngineLink,
        setup: Setup | None = None,
        show: Show | None = None,
        yard: YardLink | None = None,
        *,
        plays_at_once: bool = False,
    ) -> None:
        super().__init__()
        self.memory, trouble = _recalled()
        self.talk = Talk(link, setup, show or Show(pattern=self.memory.pattern or FIRST_PATTERN), yard)
        if trouble:
            self.talk.note(trouble)
        self._plays_at_once = plays_at_once
        self._watched: list[int] = []
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
        """The engine's state, or that a number is typed, or that the engine has gone."""
        if not self.talk.is_engine_there:
            return GONE
        return TYPING if self.typed else str(self.talk.status.state)

    @property
    def is_text_typed(self) -> bool:
        """Whether a space now belongs to a text."""
        focused = self.focused
        return isinstance(focused, Input) or (isinstance(focused, Dial) and focused.takes_space)

    def on_mount(self) -> None:
        """Listen to the engine and the yard; play if that was asked for."""
        self._listen(self.talk.link.fileno(), self.hear)
        if self.talk.yard is not None:
            self._listen(self.talk.yard.fileno(), self.hear_yard)
        if self._plays_at_once:
            self.talk.play()
        self.tell()
        self.call_after_refresh(self._painted)

    def _painted(self) -> None:
        self.is_painted = True
        if self.talk.setup is None and self.memory.source:
            try:
                self.talk.setup = setup_of(self.memory, None)
            except RopewalkError as error:
                self.talk.note(f"The display of the last time cannot be had. {error}")
        self.tell()

    def _listen(self, descriptor: int, hear: Callable[[], None]) -> None:
        asyncio.get_running_loop().add_reader(descriptor, hear)
        self._watched.append(descriptor)

    def hear(self) -> None:
        """Take in what the engine says."""
        if self.talk.hear():
            self.tell()
        if not self.talk.is_engine_there:
            self._stop_listening(0)

    def hear_yard(self) -> None:
        """Take in what the yard says."""
        if self.talk.hear_yard():
            self.tell()
        if self.talk.yard is None:
            self._stop_listening(1)

    def _stop_listening(self, which: int) -> None:
        asyncio.get_running_loop().remove_reader(self._watched[which])

    def on_unmount(self) -> None:
        """Detach. What becomes of the lights is the engine's business."""
        for descriptor in self._watched:
            asyncio.get_running_loop().remove_reader(descriptor)
        self.talk.close()

    def tell(self) -> None:
        """Let every widget look whether what it shows has changed."""
        self.news += 1

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
        is_enter = "enter" in keys_of(known)
        mode = str(self.talk.status.state) if self.mode == TYPING and not is_enter else self.mode
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
