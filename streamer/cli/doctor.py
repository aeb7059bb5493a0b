"""`ropewalk doctor`: goes along the chain from the file to the controllers, and says what is broken in it."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.numbers import Finite

EPILOG = """Examples:

\b
  ropewalk doctor display.toml                    by the way the system takes
  ropewalk doctor display.toml --interface eth0   as send does with it
  ropewalk doctor display.toml --json             for scripts

It lights nothing: no packet that it sends carries levels. It takes about ten seconds.

Exit codes: 0 nothing is broken (remarks may be told), 1 something is, or it was stopped before the end, 2
the command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see ropewalk interfaces.")
@click.option(
    "--seconds",
    metavar="S",
    type=Finite(min=0, min_open=True, max=60),
    default=3.0,
    show_default=True,
    help="How long to listen for other sources; one whose picture stands still sends once a second.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object at the end.")
def doctor(file: Path, *, interface: str | None, seconds: float, as_json: bool) -> None:
    """Look for the broken link between a display file and its lights.

    Interface, addresses, routes, ports, multicast, controllers, other sources: what was looked at, what was
    seen, and what to do. What rests on a broken link is not looked at; everything else is.
    """
    from streamer.cli.doctoring import visit

    sys.exit(0 if visit(file, interface, seconds, as_json=as_json) else FOUND_WRONG)
