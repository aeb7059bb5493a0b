"""What to write instead, for command lines that are not understood."""

from collections.abc import Collection
from difflib import get_close_matches

import click

from streamer.cli.order import DISPLAY_SUFFIX
from streamer.display.places import plain

EXTRA = "extra argument"
"""As click says it."""
EXAMPLES = {"FILE": "display.toml", "CAPTURE": "evening.pcapng", "PATTERN": "walk display.toml"}
"""What a person would write in these places."""
NAMING = ("--port", "--only", "--fault", "--interface")
"""Options for what is most often written without one."""


def instead_of_command(name: str, commands: Collection[str]) -> str:
    """Return what may be meant by a command that there is not; "" where nothing is near."""
    told = plain(name)
    if name.endswith(DISPLAY_SUFFIX):
        return f"To open that file: ropewalk ui {told}. To check it: ropewalk check {told}"
    if _is_pattern(name):
        return f"To play that pattern: ropewalk send {told} display.toml"
    near = get_close_matches(name, commands)
    return f"Did you mean: {', '.join(f'ropewalk {each}' for each in near)}?" if near else ""


def _is_pattern(name: str) -> bool:
    from patterns.registry import all_patterns

    return name in {each.name for each in all_patterns()}


def instead_of_usage(error: click.UsageError, command: click.Command | None) -> str:
    """Return what to write instead of what a command has not understood; "" where click says it itself."""
    options = [each for each in command.params if isinstance(each, click.Option)] if command else []
    if isinstance(error, click.BadOptionUsage):
        asked = next((each for each in options if error.option_name in each.opts), None)
        return f"Write: {error.option_name} {asked.metavar}" if asked and asked.metavar else ""
    if isinstance(error, click.MissingParameter) and isinstance(error.param, click.Argument) and command:
        example = EXAMPLES.get(error.param.human_readable_name)
        return f"Such as: ropewalk {command.name} {example}" if example else ""
    if EXTRA in error.message and command:
        form = "--" + error.message.rstrip(".)").rpartition(".")[2]
        if any(each.is_flag and form in each.opts for each in options):
            return f"To write what it prints into a file: {form} > NAME"
        places = [each.human_readable_name for each in command.params if isinstance(each, click.Argument)]
        named = next((each for each in NAMING if any(each in option.opts for option in options)), None)
        takes = f"It takes {' and '.join(places)} alone" if places else "It takes options alone"
        return f"{takes}; a name has an option before it: {named} NAME" if named else takes
    return ""
