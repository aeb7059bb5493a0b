"""`ropewalk find` and `ropewalk count`: guided searches on one port, by prompt or for another program."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.fewer_flashes import fewer_flashes
from streamer.cli.numbers import Finite
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT, LOOK_LOW_PERCENT
from streamer.find.answers import EYES
from streamer.find.suspects import ANYTHING, COUNT, SUSPECTS, terms_of
from streamer.find.terms import CERTAINTY, ERROR_RATE

EPILOG = (
    "Exit codes: 0 all is as planned; 1 it is not, nobody is certain, or FILE is not right; 2 the command "
    "line was wrong."
)
Command = Callable[..., None]

COMMON = (
    click.argument("file", type=click.Path(path_type=Path)),
    click.option(
        "--port",
        metavar="NAME/3",
        help="Which port: controller/number, as in the file. Without it all, one after another.",
    ),
    click.option("--to", multiple=True, metavar="ADDRESS", help="Instead of the controllers' own addresses."),
    click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see ropewalk interfaces."),
    click.option(
        "--level",
        type=Finite(LOOK_LOW_PERCENT, 100),
        metavar="PERCENT",
        default=LEVEL_DEFAULT_PERCENT,
        help=f"Of full brightness.  [{LEVEL_DEFAULT_PERCENT:g}]",
    ),
    fewer_flashes,
    click.option(
        "--eyes",
        type=click.Choice(list(EYES)),
        default="six",
        help="Colours to tell apart: six and white; three (yellow, blue, white) for red-green colour "
        "blindness; lit asks for no colours.  [six]",
    ),
    click.option(
        "--wrong",
        type=Finite(0, 0.49),
        metavar="SHARE",
        default=ERROR_RATE,
        help=f"How many of your answers may be wrong; 0 takes each for the truth.  [{ERROR_RATE:g}]",
    ),
    click.option(
        "--certainty",
        type=Finite(0.5, 0.999),
        metavar="SHARE",
        default=CERTAINTY,
        help=f"Stop when so sure.  [{CERTAINTY:g}]",
    ),
    click.option(
        "--answers",
        type=click.Choice(["prompt", "-"]),
        default="prompt",
        help="- speaks JSON lines: looks out on standard output, answers in on standard input.",
    ),
    click.option("--anyway", is_flag=True, help="Even if another run of yours sends the same universes."),
)


def _common(command: Command) -> Command:
    for decorate in reversed(COMMON):
        command = decorate(command)
    return command


@click.command(epilog=EPILOG)
@_common
@click.option(
    "--suspect",
    type=click.Choice(list(SUSPECTS)),
    default=ANYTHING,
    help="Search only for this: fewer looks, but nothing else is thought of.  [anything]",
)
def find(suspect: str, **options: Any) -> None:
    """Find what is the matter with one port, or go through all of them.

    Puts picture after picture on its lights and asks one question about each, until a few answers have named
    the fault and where to go. However it ends, the lights go dark.
    """
    _search(suspect, options, writes=False)


@click.command(epilog=EPILOG)
@_common
@click.option("--write", is_flag=True, help="Write the number to FILE without asking.")
def count(**options: Any) -> None:
    """Count the nodes of one string, or of all, those past the plan too.

    The same looks and questions; then it offers to write the number to the display FILE, with its comments
    and layout kept.
    """
    _search(COUNT, options, writes=True)


def _search(suspect: str, options: dict[str, Any], *, writes: bool) -> None:
    from streamer.cli.searching import Search

    terms = terms_of(suspect, options["eyes"], options["wrong"], options["certainty"])
    sys.exit(0 if Search(terms, options, writes=writes).run() else FOUND_WRONG)
