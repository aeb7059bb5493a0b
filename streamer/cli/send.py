"""`ropewalk send`: play one pattern without a screen, from options alone or on a display file."""

import sys
from pathlib import Path
from typing import NoReturn

import click

from streamer.cli.asked import NODES_DEFAULT, Asked
from streamer.cli.common import FOUND_WRONG, complain, exit_code, say_json
from streamer.cli.flashes import any_flashes, understood
from streamer.cli.numbers import Finite, Whole
from streamer.cli.outcome import Outcome
from streamer.cli.sending import Sending
from streamer.cli.voice import voice
from streamer.display.file import load
from streamer.ending import ending_signals
from streamer.engine.messages import (
    LEVEL_DEFAULT_PERCENT,
    RATE_DEFAULT_HZ,
    RATE_HIGH_HZ,
    RATE_LOW_HZ,
    SYNC_GAP_DEFAULT_MS,
)
from streamer.errors import RopewalkError

EPILOG = """Examples:

\b
  ropewalk send walk -u 1-4 --to 192.168.7.20        E1.31 to one controller
  ropewalk send tint -u 1-40 --interface eth0        E1.31 multicast
  ropewalk send order -u 0:1:3 --protocol artnet --to 192.168.7.21
  ropewalk send count display.toml --only jetty/2    a port of a display file
  ropewalk send level -u 1 -p colour=red --to 127.0.0.1 --seconds 9 --json

Exit codes: 0 all was sent, lights dark, streams ended (also after Ctrl-C); 1 something went wrong; 2 the
command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("pattern")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option(
    "-u",
    "--universes",
    "ranges",
    metavar="RANGES",
    help="Which universes, without a display file, such as 1-4,7,1443: E1.31 universes count from 1, "
    "Art-Net Port-Addresses from 0 (or Net:Sub-Net:Universe, such as 0:1:3).",
)
@click.option("--nodes", type=Whole(1, 170), help=f"With -u: RGB nodes a universe.  [{NODES_DEFAULT}]")
@click.option("--protocol", type=click.Choice(["e131", "artnet"]), help="With -u: the protocol.  [e131]")
@click.option(
    "--to",
    multiple=True,
    metavar="ADDRESS|multicast|multicast6",
    help="Where to; may be given again. With a display file: instead of its controllers' addresses. "
    "Without, -u means multicast for E1.31, which also goes by IPv6: multicast6, ::1, fe80::20%eth0.",
)
@click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see ropewalk interfaces.")
@click.option(
    "--rate",
    type=Finite(RATE_LOW_HZ, RATE_HIGH_HZ),
    metavar="HZ",
    default=RATE_DEFAULT_HZ,
    help=f"Frames a second, {RATE_LOW_HZ:g} to {RATE_HIGH_HZ:g}: more a full DMX512-A line cannot carry.  "
    f"[{RATE_DEFAULT_HZ:g}]",
)
@click.option(
    "--level",
    type=Finite(0, 100),
    metavar="PERCENT",
    default=LEVEL_DEFAULT_PERCENT,
    help=f"Of full brightness.  [{LEVEL_DEFAULT_PERCENT:g}]",
)
@any_flashes
@understood
@click.option(
    "--seconds", type=Finite(min=0, min_open=True), metavar="S", help="Then dark, and end.  [for ever]"
)
@click.option(
    "--record",
    type=click.Path(path_type=Path),
    metavar="CAPTURE",
    help="Keep what is sent in a new file of the pcapng format.",
)
@click.option(
    "--priority", type=Whole(0, 200), metavar="0..200", help="E1.31 priority.  [the file's, or 100]"
)
@click.option("--ttl", type=Whole(0, 255), metavar="HOPS", default=1, help="Of multicast.  [1]")
@click.option("--source-name", metavar="TEXT", default="Ropewalk", help="E1.31 source name.  [Ropewalk]")
@click.option(
    "--only", "ports", multiple=True, metavar="PORT", help="Light only this port; may be given again."
)
@click.option(
    "--pace", type=Finite(min=0), metavar="STEPS", help="A second; 0 stands still.  [the pattern's own]"
)
@click.option(
    "--spread",
    type=Finite(0, 0.9),
    help="Part of a frame over which its packets go, for controllers with small buffers; 0 is all at once. "
    "Without it, more than 100 universes are spread over 10 ms.",
)
@click.option(
    "--sync",
    type=int,
    metavar="UNIVERSE",
    help="Have E1.31 receivers show each frame at one moment, by synchronization packets on this universe "
    "after it; best one that carries no levels, such as 7999.",
)
@click.option(
    "--art-sync", is_flag=True, help="The same for Art-Net: an ArtSync after each frame, by broadcast."
)
@click.option(
    "--sync-gap",
    type=Finite(),
    metavar="MS",
    help=f"Between a frame's last packet and its synchronization packet.  [{SYNC_GAP_DEFAULT_MS:g}]",
)
@click.option("--every-frame", is_flag=True, help="Send every frame, changed or not.")
@click.option(
    "-p",
    "settings",
    multiple=True,
    metavar="NAME=VALUE",
    help="A parameter of the pattern; may be given again.",
)
@click.option(
    "--free", is_flag=True, help="Start it and leave it to itself: see ropewalk runs, attach, stop."
)
@click.option("--anyway", is_flag=True, help="Even if another run of yours sends the same universes.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object at the end, and nothing else.")
def send(**options: object) -> None:
    """Play one pattern without a screen.

    Plays PATTERN (see ropewalk patterns) on a display FILE, or on the universes of -u, until the time is
    up or Ctrl-C ends it. However it ends, the lights go dark and the streams end.
    """
    asked = Asked(**options)  # type: ignore[arg-type]  # click has checked them
    try:
        # Before the display is loaded: from here on no signal can cut the run off undone.
        with ending_signals() as is_asked_to_end:
            sending = _prepare(asked)
            if not asked.anyway:
                sending.check_rivals()
            outcome = sending.run(voice(as_json=asked.as_json), is_asked_to_end)
    except RopewalkError as error:
        _fail(asked, error)
    else:
        _finish(asked, outcome)


def _prepare(asked: Asked) -> Sending:
    asked.check_order()
    in_file = load(asked.file) if asked.file else None
    for remark in asked.remarks():
        complain(remark)
    setup = asked.setup(in_file)
    return Sending(setup, asked.show(setup.display), goes_on=asked.free)


def _finish(asked: Asked, outcome: Outcome) -> None:
    if asked.as_json:
        say_json(outcome.as_dict())
    sys.exit(0 if outcome.is_clean else FOUND_WRONG)


def _fail(asked: Asked, error: RopewalkError) -> NoReturn:
    complain(str(error))
    if asked.as_json:
        say_json({"ok": False, "error": str(error)})
    sys.exit(exit_code(error))
