"""`ropewalk send`: play one pattern without a screen, from options alone or on a display file."""

import json
import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, USAGE, complain, say
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT, RATE_DEFAULT_HZ, RATE_HIGH_HZ, RATE_LOW_HZ
from streamer.errors import LinkError, PlanError, RopewalkError


@click.command()
@click.argument("pattern")
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("-u", "ranges", metavar="RANGES", help="Universes without a display file, such as 1-4,7,1443.")
@click.option("--nodes", type=click.IntRange(1, 170), default=170, help="With -u: RGB nodes a universe.")
@click.option("--protocol", type=click.Choice(["e131", "artnet"]), default="e131", show_default=True)
@click.option("--to", multiple=True, metavar="ADDRESS|multicast", help="Where to; may be given again.")
@click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see `ropewalk interfaces`.")
@click.option("--rate", type=click.FloatRange(RATE_LOW_HZ, RATE_HIGH_HZ), default=RATE_DEFAULT_HZ,
              show_default=True, help="Frames a second. 44 is what a full DMX512-A line can carry.")
@click.option("--level", type=click.FloatRange(0, 100), default=LEVEL_DEFAULT_PERCENT, show_default=True,
              help="Percent of full brightness.")
@click.option("--seconds", type=click.FloatRange(min=0, min_open=True), help="Then dark, and end.")
@click.option("--priority", type=click.IntRange(0, 200), help="E1.31 priority; 100 where nothing is said.")
@click.option("--ttl", type=click.IntRange(0, 255), default=1, show_default=True, help="Multicast hops.")
@click.option("--source-name", default="Ropewalk", show_default=True, help="E1.31 source name.")
@click.option("--only", "ports", multiple=True, metavar="PORT", help="Light only this port; may be given again.")
@click.option("--pace", type=click.FloatRange(min=0), help="Steps a second; 0 stands still.")
@click.option("--every-frame", is_flag=True, help="Send every frame, changed or not.")
@click.option("-p", "settings", multiple=True, metavar="NAME=VALUE", help="A parameter of the pattern.")
@click.option("--free", is_flag=True, help="Keep running when this command ends; see `ropewalk runs`.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object at the end.")
def send(**options: object) -> None:
    """Play PATTERN (see `ropewalk patterns`) on a display FILE, or on the universes of -u.

    E1.31 universes count from 1, Art-Net Port-Addresses from 0 (or as Net:Sub-Net:Universe). Ctrl-C
    ends it: lights dark, streams ended.
    """
    from streamer.cli.sending import Asked, Sending

    try:
        asked = Asked(**options)  # type: ignore[arg-type]  # click has checked them
        sending = Sending(asked)
    except PlanError as error:
        complain(str(error))
        sys.exit(FOUND_WRONG if options["file"] else USAGE)
    except RopewalkError as error:
        complain(str(error))
        sys.exit(FOUND_WRONG)
    try:
        outcome = sending.run(say if not options["as_json"] else lambda _line: None)
    except (LinkError, RopewalkError) as error:
        complain(str(error))
        sys.exit(FOUND_WRONG)
    if options["as_json"]:
        say(json.dumps(outcome.as_dict()))
    sys.exit(0 if outcome.is_clean else FOUND_WRONG)
