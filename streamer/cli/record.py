"""`ropewalk record`: keep what is heard in a capture file."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG
from streamer.cli.numbers import Finite

EPILOG = """Examples:

\b
  ropewalk record evening.pcapng                       whatever is heard
  ropewalk record evening.pcapng display.toml --seconds 60
  ropewalk record evening.pcapng -u 1-4 --interface eth0

The file is in the pcapng format, which tshark and others open, and ropewalk replay streams again. A switch
passes on only what is for this machine: what a controller is sent alone is not heard here.

Exit codes: 0 something was kept, 1 nothing was heard or it could not listen or write, 2 the command line was
wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("capture", type=click.Path(path_type=Path))
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option(
    "-u",
    "--universes",
    "ranges",
    metavar="RANGES",
    help="Which universes, as for ropewalk hear.  [those of the display FILE, or all that are announced]",
)
@click.option("--protocol", type=click.Choice(["e131", "artnet"]), help="Keep this one alone.  [both]")
@click.option("--interface", metavar="NAME|ADDRESS", help="Hear by this one alone: see ropewalk interfaces.")
@click.option("--seconds", type=Finite(min=0, min_open=True), help="End after so long; else Ctrl-C ends it.")
@click.option("--json", "as_json", is_flag=True, help="Print what was kept as JSON.")
def record(capture: Path, *, as_json: bool, **options: object) -> None:
    """Keep what is heard in a capture file.

    CAPTURE is a new file; Ctrl-C ends it. Joins the groups of a display FILE's universes, or of -u, or of
    those that are announced. It sends nothing, and takes nothing from other programs on this machine.
    """
    from streamer.cli.hearing import Asked
    from streamer.cli.order import check_capture_then_file
    from streamer.cli.recording import keep

    file = options["file"]
    check_capture_then_file(capture, file if isinstance(file, Path) else None)
    wish = Asked(discover=False, watch=None, as_json=as_json, **options).wish()  # type: ignore[arg-type]  # click has checked them
    seconds = options["seconds"]
    is_kept = keep(capture, wish, seconds if isinstance(seconds, float) else None, as_json=as_json)
    sys.exit(0 if is_kept else FOUND_WRONG)
