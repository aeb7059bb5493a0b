"""`ropewalk soak`: the night run, unattended, with everything watched and written down."""

import sys
import traceback
from datetime import datetime
from pathlib import Path
from typing import NoReturn

import click

from streamer.cli.common import FOUND_WRONG, complain, say
from streamer.cli.fewer_flashes import fewer_flashes
from streamer.cli.numbers import Finite
from streamer.cli.reporting import display_file
from streamer.cli.sent_to import sent_to
from streamer.cli.service import Service
from streamer.cli.soaking import soak_through, to_be_taken_up
from streamer.display.file import load
from streamer.display.model import Display
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT, RATE_DEFAULT_HZ, RATE_HIGH_HZ, RATE_LOW_HZ
from streamer.errors import JournalError, PlanError, Problem, RivalError, RopewalkError
from streamer.soak.asked import Asked
from streamer.soak.clocks import Clocks, these_clocks
from streamer.soak.durations import next_moment, parse_duration, parse_moment
from streamer.soak.programme import PARTS, Programme, parse_programme, usual_programme

UNTIL = "06:00"
"""Of the service's night, unless something else is asked."""
COULD_NOT = 3
"""It could not begin or go on: worth another try, which 1 and 2 are not."""
BESIDE_ANOTHER = 4
"""It did not begin since another run sends to the same place: worth another try, or --anyway."""
EPILOG = """Examples:

\b
  ropewalk soak display.toml --until 06:00
  ropewalk soak display.toml --for 10m --level 60
  ropewalk soak display.toml --for 1h --programme full:20m,dark:1m,data:5m
  ropewalk soak display.toml --resume         after a crash or a power cut
  ropewalk soak display.toml --service       units of systemd, to be installed

Parts of a programme: {parts}.

Exit codes: 0 nothing found that speaks against the display; 1 something was, see ropewalk report, or
FILE is not right; 2 the command line was wrong; 3 it could not begin or go on;
4 it did not begin, since another run of yours sends to the same place.
"""


@click.command(epilog=EPILOG.format(parts="; ".join(f"{part.name}, {part.words}" for part in PARTS)))
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--until", metavar="HH:MM", help="End when the clock shows this, such as 06:00.")
@click.option("--for", "duration", metavar="TIME", help="End after this, such as 8h, 90m or 1h30m.")
@click.option(
    "--programme", metavar="PARTS", help="What is shown, such as full:4m,data,dark:30s.  [ten minutes of all]"
)
@click.option("--resume", is_flag=True, help="Go on in the run that was broken off, if there is one.")
@click.option(
    "--service", is_flag=True, help="Print units of systemd, with instructions, and do nothing else."
)
@click.option("--to", metavar="ADDRESS", help="Send here instead of to the controllers' own addresses.")
@click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see ropewalk interfaces.")
@click.option(
    "--level",
    type=Finite(0, 100),
    metavar="PERCENT",
    default=LEVEL_DEFAULT_PERCENT,
    help="Of full brightness; fuses and supplies are held under their limits in any case.  "
    f"[{LEVEL_DEFAULT_PERCENT:g}]",
)
@click.option(
    "--rate",
    type=Finite(RATE_LOW_HZ, RATE_HIGH_HZ),
    metavar="HZ",
    default=RATE_DEFAULT_HZ,
    help=f"Frames a second.  [{RATE_DEFAULT_HZ:g}]",
)
@fewer_flashes
@click.option("--every-frame", is_flag=True, help="Send every frame, changed or not.")
@click.option("--anyway", is_flag=True, help="Even if another run of yours sends the same universes.")
def soak(  # noqa: PLR0913  one for each option
    *,
    file: Path | None,
    until: str | None,
    duration: str | None,
    programme: str | None,
    resume: bool,
    service: bool,
    to: str | None,
    interface: str | None,
    level: float,
    rate: float,
    flashes: int | None,
    every_frame: bool,
    anyway: bool,
) -> None:
    """Keep the display working through the night, and watch everything.

    Plays a programme made to find weak spots on a display FILE, and writes what becomes of it into a journal
    beside the file: see ropewalk report. It rides through faults of the network, a closed terminal and a set
    clock. Ctrl-C ends it well. If this process is killed, the lights go dark by themselves, and --resume goes
    on; the FILE may then be left out where there is only one journal in this folder.
    """
    clocks = these_clocks()
    try:
        file = _file(file, resume=resume)
        if service:
            display = _display(file, to)
            given = {"--programme": programme, "--to": to, "--interface": interface}
            given["--flashes"] = None if flashes is None else str(flashes)
            say(Service(file, _options(given, level, rate, every_frame=every_frame), until or UNTIL).units())
            return
        if resume and (before := to_be_taken_up(file, clocks.unix_s())):
            # A rehearsal stays one, and what was asked for the eyes of somebody holds.
            to, interface = to or before.to or None, interface or before.pinned_to or None
            flashes, every_frame = flashes or before.flashes_per_s, every_frame or before.every_frame
        display = _display(file, to)
        asked_s = _asked_s(until, duration, clocks, is_needed=not resume)
        asked = Asked(
            file=file,
            display=display,
            programme=_programme(programme, display),
            asked_s=asked_s,
            is_by_the_wall=until is not None,
            level_percent=level,
            rate_hz=rate,
            interface=interface,
            every_frame=every_frame,
            to=to or "",
            flashes_per_s=flashes,
        )
    except JournalError as error:
        complain(str(error))
        sys.exit(COULD_NOT)
    try:
        is_right = soak_through(asked, clocks, resume=resume, anyway=anyway)
    except RopewalkError as error:
        complain(str(error))
        sys.exit(BESIDE_ANOTHER if isinstance(error, RivalError) else COULD_NOT)
    except Exception:  # noqa: BLE001  whatever it is, systemd is to start it again, which code 1 would forbid
        _fail()
    sys.exit(0 if is_right else FOUND_WRONG)


def _file(file: Path | None, *, resume: bool) -> Path:
    if file is None and not resume:
        what = "it is not said of which display"
        raise PlanError([Problem("FILE", what, "Name its file, such as ropewalk soak display.toml --for 8h")])
    return display_file(file) if file is None else file


def _options(
    given: dict[str, str | None], level: float, rate: float, *, every_frame: bool
) -> tuple[str, ...]:
    """Return the options that a service is to go by."""
    numbers = {"--level": (level, LEVEL_DEFAULT_PERCENT), "--rate": (rate, RATE_DEFAULT_HZ)}
    words = [word for option, value in given.items() if value is not None for word in (option, value)]
    words += [
        word
        for option, (value, usual) in numbers.items()
        if value != usual
        for word in (option, f"{value:g}")
    ]
    return (*words, *(["--every-frame"] if every_frame else []))


def _fail() -> NoReturn:
    traceback.print_exc()
    sys.exit(COULD_NOT)


def _display(file: Path, to: str | None) -> Display:
    return sent_to(load(file), (to,) if to else ())


def _programme(text: str | None, display: Display) -> Programme:
    if text is not None:
        return parse_programme(text, "--programme")
    return usual_programme(has_fixtures=any(controller.fixtures for controller in display.controllers))


def _asked_s(until: str | None, duration: str | None, clocks: Clocks, *, is_needed: bool) -> float | None:
    if until is not None and duration is not None:
        raise PlanError([Problem("soak", "there is --until and --for", "Take out one of the two")])
    if until is not None:
        now: datetime = clocks.local()
        return (next_moment(parse_moment(until, "--until"), now) - now).total_seconds()
    if duration is not None:
        return parse_duration(duration, "--for")
    if is_needed:
        what = "it is not said how long"
        raise PlanError(
            [Problem("soak", what, "Write --until and a time, such as --until 06:00, or --for 8h")]
        )
    return None
