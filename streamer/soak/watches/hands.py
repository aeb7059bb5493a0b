"""What people do to a night run from a screen: they take control, hold it in hand, make it dark."""

from collections.abc import Iterator

from pydantic import BaseModel

from streamer.engine.client import STOPPER
from streamer.engine.messages import Change, Dark, Pause, Play, Setup, Show, State, Status, TakeControl
from streamer.soak.findings import Finding
from streamer.soak.records import EventKind, Severity

WHILE_ON = {"change", "pause", "dark"}
"""What a night run asks of a run that is on; others may have taken control in that moment."""
SOMEBODY = "somebody"
TAKEN = "the programme waits until they leave"
HELD = "the pattern is held in hand from outside: the programme waits"
DARKENED = "all lights are dark until a person lights them again, so nothing is tried of them meanwhile"


class Hands:
    """Who has control, and what was done with it. The programme waits for them; their dark outlasts them."""

    def __init__(self, darkened_by: str = "") -> None:
        self.is_theirs = False
        """Whether they have put up something else altogether."""
        self.are_refused = False
        """Whether something was refused for want of control, until it is known who has it."""
        self._taken_by = ""
        self._darkened_by = darkened_by
        """Who has made it dark; kept after they have left."""
        self._is_dark, self._is_held = bool(darkened_by), False
        self._is_dark_again = False
        """Whether an engine was asked to begin in the dark, and has not said yet that it is."""

    @property
    def are_on(self) -> bool:
        """Whether somebody else has control."""
        return bool(self._taken_by)

    def heed(self, status: Status) -> None:
        """Take in who has control, and how the lights are."""
        if status.control and not status.yours:
            self._taken_by, self._is_dark_again = status.control, False
        if status.control:
            self.are_refused = False
        is_dark = status.state is State.DARK
        if is_dark and not self._is_dark:
            self._darkened_by = self._taken_by or SOMEBODY
        self._is_dark_again = self._is_dark_again and not is_dark
        self._is_dark = is_dark or self._is_dark_again
        self._is_held = status.state is State.IN_HAND

    def let_go(self) -> None:
        """Nobody else has control any more: they have left, or their engine has gone."""
        self._taken_by = ""
        self.are_refused = self.is_theirs = self._is_held = False

    def have_left(self, status: Status) -> bool:
        """Return whether nobody has control: it is to be taken back."""
        return not status.control and bool(self._taken_by or self.are_refused)

    def begin(self, setup: Setup, show: Show) -> Iterator[BaseModel]:
        """Yield what to ask of an engine to play this, and dark as long as nobody has lit it again."""
        if not self._is_dark:
            yield Play(setup=setup, show=show)
            return
        self._is_dark_again = True
        # Not one frame is lit before the dark is in force.
        yield Play(setup=setup, show=show.model_copy(update={"level_percent": 0.0}))
        yield Dark(on=True)
        yield Change(show=show)

    def go_on(self, setup: Setup, show: Show) -> Iterator[BaseModel]:
        """Yield what to ask of an engine whom they have left. What is dark stays dark: see `begin`."""
        yield TakeControl()
        if self.is_theirs:
            yield from self.begin(setup, show)
        else:
            yield Change(show=show)
            yield Pause(on=False)

    def findings(self) -> Iterator[Finding]:
        """Yield what is done by hand just now, and by whom."""
        # Who takes it to end the run is told as the end.
        if self._taken_by and not self._taken_by.startswith(STOPPER):
            yield Finding(EventKind.CONTROL_TAKEN, self._taken_by, TAKEN, Severity.REMARK)
        if self._is_dark:
            yield Finding(EventKind.DARKENED, self._darkened_by, DARKENED, Severity.REMARK)
        if self._is_held:
            yield Finding(EventKind.NOTE, "by hand", HELD, Severity.REMARK)
