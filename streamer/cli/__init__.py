"""The command line: thin. Every command asks one room of the house, and prints what it says.

The `ropewalk` command itself is put together in `tui.command`, since some of its commands open a screen.
"""

import click

from streamer.cli.plans import check, interfaces, new, patterns, yard
from streamer.cli.runs import runs, stop
from streamer.cli.send import send

COMMANDS: tuple[click.Command, ...] = (check, interfaces, new, patterns, runs, send, stop, yard)
