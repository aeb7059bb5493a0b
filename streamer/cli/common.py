"""What the commands share: exit codes, and how they print."""

import json
from collections.abc import Mapping

import click

from streamer.errors import FileError, PlanError, RopewalkError

FOUND_WRONG = 1
"""The job found something wrong: with the lights, this machine, or a file that was named."""
USAGE = 2
"""The command line was wrong: another one is needed, whatever becomes of the machine and the files."""
ANYWAY = ". Or say --anyway."
"""How a refusal ends that this option sets aside."""
US_SUFFIX = "_us"
DECIMALS = 3


def say(text: str) -> None:
    """Print a line on standard output, at once, even into a pipe."""
    click.echo(text)


def say_json(value: object, indent: int | None = None) -> None:
    """Print a value as JSON, its numbers rounded to what they are worth."""
    say(json.dumps(_rounded(value), indent=indent))


def _rounded(value: object, key: str = "") -> object:
    if isinstance(value, Mapping):
        return {name: _rounded(each, str(name)) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(each, key) for each in value]
    if isinstance(value, float):
        return round(value) if key.endswith(US_SUFFIX) else round(value, DECIMALS)
    return value


def only_one(asked: Mapping[str, bool]) -> str:
    """Return which of these options is asked for, such as "--json", "" for none; UsageError for several."""
    several = [option for option, is_asked in asked.items() if is_asked]
    if len(several) > 1:
        listed = f"{', '.join(several[:-1])} and {several[-1]}"
        raise click.UsageError(f"{listed} are different outputs: ask for one of them.")
    return several[0] if several else ""


def exit_code(error: RopewalkError) -> int:
    """Return the exit code of a command that this ends, the same for all of them."""
    is_usage = isinstance(error, PlanError) and not isinstance(error, FileError)
    return USAGE if is_usage else FOUND_WRONG


def complain(text: str) -> None:
    """Print a line on standard error."""
    click.echo(text, err=True)


def counted(count: int, what: str) -> str:
    """Return "1 universe", "4 universes"."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
