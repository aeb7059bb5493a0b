"""A group of commands that loads each one only when it is asked for, and tells errors in words."""

import errno
import os
import sys
from collections.abc import Mapping
from importlib import import_module
from typing import Any, NamedTuple

import click

from streamer.cli.common import FOUND_WRONG, complain, exit_code
from streamer.cli.hints import instead_of_command, instead_of_usage
from streamer.display.places import plain
from streamer.errors import RopewalkError

STANDARD_OUTPUT = 1


class Entry(NamedTuple):
    """Where a command is, "module:name", and the sentence that lists it."""

    place: str
    sentence: str


class Commands(click.Group):
    """Knows its commands by `entries`: to list them loads none of them."""

    def __init__(self, *args: Any, entries: Mapping[str, Entry], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._entries = entries

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click's signature
        """Return the names, in the order of the entries."""
        return list(self._entries)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load a command, None if there is none of that name."""
        if cmd_name not in self._entries:
            return None
        module, _, name = self._entries[cmd_name].place.partition(":")
        command = getattr(import_module(module), name)
        return command if isinstance(command, click.Command) else None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command and its arguments; one that there is not is told with what may be meant."""
        name = args[0]
        if name in self._entries or name.startswith("-"):
            return super().resolve_command(ctx, args)
        hint = instead_of_command(name, self._entries)
        raise click.UsageError(f"No such command {plain(name)!r}. {hint}".rstrip(), ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the list of commands, whole sentences."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.sentence) for name, entry in self._entries.items()])

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401  click's signature
        """Run the command; what it cannot do is told in words, with the exit code for that."""
        try:
            return super().invoke(ctx)
        except click.UsageError as error:
            name = ctx.invoked_subcommand
            hint = instead_of_usage(error, self.get_command(ctx, name) if name else None)
            if not hint:
                raise
            raise click.UsageError(f"{error.format_message().rstrip('.')}. {hint}", error.ctx) from error
        except RopewalkError as error:
            complain(str(error))
            sys.exit(exit_code(error))
        except OSError as error:
            # A reader that has seen enough (`| head -1`) is no fault; click ends quietly.
            if error.errno == errno.EPIPE:
                raise
            complain(f"The system refuses: {error}")
            _forget_output()
        sys.exit(FOUND_WRONG)


def _forget_output() -> None:
    """Let what standard output could not take go nowhere, or Python tries again when it ends."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, STANDARD_OUTPUT)
    os.close(nowhere)
