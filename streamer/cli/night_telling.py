"""Where a night run is told: on a terminal the moment is written over; elsewhere lines, the moment seldom."""

import shutil
import sys
from collections.abc import Callable
from textwrap import fill
from typing import TYPE_CHECKING

from streamer.cli.night_text import event_line, moment_line, over_line
from streamer.cli.speaker import Speaker
from streamer.soak.records import Event
from streamer.soak.signals import let_go_of_terminal

if TYPE_CHECKING:
    from streamer.soak.night import Night

EACH_S = 1.0
SELDOM_S = 600.0
"""Into a pipe or a system's log: often enough to see that it goes."""
LINE_COLUMNS = 160


class Telling:
    """Speaks until the terminal closes."""

    def __init__(self, steady_s: Callable[[], float]) -> None:
        self._steady_s = steady_s
        self._speaker = Speaker()
        self._is_terminal = sys.stdout is not None and sys.stdout.isatty()
        self._told_s = float("-inf")
        self._is_open = self._is_closed = False

    def line(self, text: str) -> None:
        """Say something that stays."""
        if self._is_closed:
            return
        if self._is_open:
            self._speaker.say(f"\r{'':{_columns()}}\r")
            self._is_open = False
        self._speaker.say(f"{fill(text, _columns()) if self._is_terminal else text}\n")

    def event(self, event: Event) -> None:
        """Tell an event."""
        self.line(event_line(event))

    def over(self, event: Event) -> None:
        """Tell that it is over."""
        self.line(over_line(event))

    def trouble(self, sentence: str) -> None:
        """Tell that the journal cannot be written."""
        self.line(f"! {sentence}.")

    def moment(self, night: "Night") -> None:
        """Tell how it stands, if that is due."""
        now_s = self._steady_s()
        if (
            self._is_closed
            or night.is_over
            or now_s - self._told_s < (EACH_S if self._is_terminal else SELDOM_S)
        ):
            return
        self._told_s = now_s
        if self._is_terminal:
            self._speaker.say(f"\r{moment_line(night, _columns()):{_columns()}}")
            self._is_open = True
        else:
            self._speaker.say(f"{moment_line(night, LINE_COLUMNS)}\n")

    def close(self) -> None:
        """Let the last words be heard."""
        self._speaker.close()

    def hang_up(self) -> None:
        """Say no more on a terminal that has closed: there is nobody to hear it."""
        let_go_of_terminal()
        self._is_closed = self._is_terminal


def _columns() -> int:
    # One less: at the last column some terminals begin a new line.
    return shutil.get_terminal_size().columns - 1
