"""Where a run is told: lines, the line of the moment, warnings. On a terminal the moment is written over."""

import shutil
import sys
from typing import Protocol

import click

from streamer.cli.common import complain, say


class Voice(Protocol):
    """What a run speaks through."""

    def tell(self, line: str) -> None:
        """Say something that stays."""

    def tell_moment(self, line: str) -> None:
        """Say what is so just now."""

    def warn(self, line: str) -> None:
        """Say what a person should heed."""


class Lines:
    """Says everything in lines of its own: for pipes and files."""

    def tell(self, line: str) -> None:
        """Print it."""
        say(line)

    def tell_moment(self, line: str) -> None:
        """Print it."""
        say(line)

    def warn(self, line: str) -> None:
        """Print it on standard error."""
        complain(line)


class Warnings(Lines):
    """Keeps standard output free, for JSON."""

    def tell(self, line: str) -> None:
        """Say nothing."""

    def tell_moment(self, line: str) -> None:
        """Say nothing."""


class Terminal(Lines):
    """Writes each moment over the one before."""

    _is_open = False

    def tell(self, line: str) -> None:
        """Print it below the moment."""
        if self._is_open:
            self._is_open = False
            say("")
        say(line)

    def tell_moment(self, line: str) -> None:
        """Write it over the moment before, cut to the terminal's width."""
        width = shutil.get_terminal_size().columns - 1
        click.echo(f"\r{line[:width]:{width}}", nl=False)
        self._is_open = True


def voice(*, as_json: bool) -> Voice:
    """Return the voice that fits where standard output leads."""
    if as_json:
        return Warnings()
    # It is None in a process that was started without one.
    return Terminal() if sys.stdout is not None and sys.stdout.isatty() else Lines()
