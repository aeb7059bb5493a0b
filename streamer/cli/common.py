"""What the commands share: how they print, and how they tell errors."""

import functools
import sys
from collections.abc import Callable
from typing import ParamSpec, TypeVar

import click

from streamer.errors import RopewalkError

FOUND_WRONG = 1
USAGE = 2

P = ParamSpec("P")
R = TypeVar("R")


def say(text: str) -> None:
    """Print a line on standard output, at once, even into a pipe."""
    click.echo(text)


def complain(text: str) -> None:
    """Print a line on standard error."""
    click.echo(text, err=True)


def telling_errors(command: Callable[P, R]) -> Callable[P, R]:
    """Let a command end with the error's words and exit code 1 where it would end with a traceback."""

    @functools.wraps(command)
    def told(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return command(*args, **kwargs)
        except RopewalkError as error:
            complain(str(error))
            sys.exit(FOUND_WRONG)

    return told
