"""`ropewalk replay`: stream a capture again, at its own pace or another."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.flashes import understood
from streamer.cli.numbers import Finite

EPILOG = """Examples:

\b
  ropewalk replay evening.pcapng --look        what is in it; nothing is sent
  ropewalk replay evening.pcapng --interface eth0
  ropewalk replay evening.pcapng --speed 0.5 --to 10.0.0.20

Levels and synchronization of E1.31 and Art-Net are sent, octet for octet as they were captured, to where they
went; all else in the file is passed over. Levels are the capture's own: no level, fuse or supply limits them.
Do not replay beside the source itself: receivers cannot tell the two apart. At the end, and on Ctrl-C, all
lights go dark and every stream is ended.

Flashing light can set off seizures. A capture in which any light, or all together, would flash more than
three times in any second is streamed only with --understood and the word that the refusal names.

Exit codes: 0 all was sent, 1 it could not be, or only in part, 2 the command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("capture", type=click.Path(path_type=Path))
@click.option(
    "--speed", type=Finite(0.01, 100), default=1.0, show_default=True, help="Times the capture's own pace."
)
@click.option("--to", metavar="ADDRESS", help="Send all of it there instead of where it went.")
@click.option("--interface", metavar="NAME|ADDRESS", help="Send by this one alone: see ropewalk interfaces.")
@understood
@click.option("--look", is_flag=True, help="Say what is in it, and send nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print what is in it and what was sent as JSON.")
def replay(**options: object) -> None:
    """Stream a capture file again, at its own pace or another.

    CAPTURE is of the pcapng format, whoever wrote it.
    """
    from streamer.cli.replaying import Asked, stream

    asked = Asked(**options)  # type: ignore[arg-type]  # click has checked them
    asked.check()
    sys.exit(0 if stream(asked) else FOUND_WRONG)
