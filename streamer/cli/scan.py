"""`ropewalk scan`: which Art-Net devices and E1.31 sources are there, and whether that is as planned."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.numbers import Finite

EPILOG = """Examples:

\b
  ropewalk scan                                 who is there?
  ropewalk scan display.toml                  as planned, otherwise, missing?
  ropewalk scan --interface eth0 --seconds 4  by one interface; Art-Net alone
  ropewalk scan --write new.toml                a display file to start from
  ropewalk scan display.toml --to 127.0.0.1   compare with a rehearsal here

It polls Art-Net devices every 2.75 s, by the directed broadcast address of each network and, with a FILE,
each controller's own address; it sends no levels. E1.31 has no question that receivers answer: only sources
announce themselves, every 10 s.

Exit codes: 0 what is planned was found as planned (without a FILE: something was found), 1 it was not,
2 the command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--interface", metavar="NAME|ADDRESS", help="Ask by this one alone: see ropewalk interfaces.")
@click.option(
    "--seconds",
    type=Finite(min=0, min_open=True),
    help="How long to ask and listen.  [12: universe discovery comes every 10 s]",
)
@click.option("--to", metavar="ADDRESS", help="Look for all controllers of the FILE at this address instead.")
@click.option("--write", type=click.Path(path_type=Path), help="Write a new display file of what was found.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def scan(**options: object) -> None:
    """Find who is there, and compare with the display file.

    Lists the Art-Net devices that answer, with their ports and Port-Addresses, and the E1.31 sources that
    announce universes. With a display FILE it says what is as planned, what is addressed otherwise and how,
    what is missing and what is not planned.
    """
    from streamer.cli.scanning import Asked, scan_now

    asked = Asked(**options)  # type: ignore[arg-type]  # click has checked them
    sys.exit(0 if scan_now(asked, asked.display()) else FOUND_WRONG)
