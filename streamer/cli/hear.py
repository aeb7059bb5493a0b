"""`ropewalk hear`: who sends which universe on this network, how it arrives, and who wins."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.numbers import Finite

EPILOG = """Examples:

\b
  ropewalk hear display.toml --interface eth0   the universes of a display
  ropewalk hear -u 1-40 --seconds 5             a list after five seconds
  ropewalk hear --discover                      whatever sources announce
  ropewalk hear -u 7 --watch 7/104              levels, and a slot's history
  ropewalk hear -u 1-4 --seconds 3 --json       a line a second, for scripts

Whatever is sent to this machine or to everybody is heard as well, asked for or not. A switch passes on only
what is for this machine: what a controller is sent alone is not heard here.

Exit codes: 0 something was heard (also after Ctrl-C), 1 nothing was or it could not listen, 2 the command
line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option(
    "-u",
    "--universes",
    "ranges",
    metavar="RANGES",
    help="Which universes, such as 1-4,7,1443: E1.31 universes count from 1, Art-Net Port-Addresses from 0 "
    "(or Net:Sub-Net:Universe, such as 0:1:3).",
)
@click.option(
    "--protocol",
    type=click.Choice(["e131", "artnet"]),
    help="Listen to this one alone; of -u: which one is meant.  [both; of -u e131]",
)
@click.option("--interface", metavar="NAME|ADDRESS", help="Hear by this one alone: see ropewalk interfaces.")
@click.option("--discover", is_flag=True, help="Also every universe that E1.31 universe discovery announces.")
@click.option("--seconds", type=Finite(min=0, min_open=True), help="End after so long; else Ctrl-C ends it.")
@click.option("--watch", metavar="UNIVERSE[/SLOT]", help="Show a universe's levels, and a slot's history.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON line a second.")
def hear(**options: object) -> None:
    """Listen: who sends which universe, how it arrives, who wins.

    Joins the groups of a display FILE's universes, or of -u, or of those that are announced. It sends nothing
    and takes nothing from other programs on this machine.
    """
    from streamer.cli.hearing import Asked, listen

    asked = Asked(**options)  # type: ignore[arg-type]  # click has checked them
    is_heard = listen(asked.wish(), asked.watched(), asked)
    sys.exit(0 if is_heard else FOUND_WRONG)
