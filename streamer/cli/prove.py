"""`ropewalk prove`: the walk through the whole display, by prompt or with another program as the eyes."""

import shutil
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from textwrap import fill

import click

from streamer.cli.asking import Asker, JsonLines, Prompt, target
from streamer.cli.common import FOUND_WRONG, complain, exit_code, say_json
from streamer.cli.fewer_flashes import fewer_flashes
from streamer.cli.keys import Keys
from streamer.cli.lights import Lights
from streamer.cli.numbers import Finite
from streamer.cli.proving import walk_through
from streamer.cli.real_lights import are_real
from streamer.cli.rivals import check_rivals
from streamer.cli.sent_to import sent_to
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.ending import ending_signals
from streamer.engine.messages import LEVEL_DEFAULT_PERCENT, LOOK_LOW_PERCENT, Setup
from streamer.engine.rivals import WIDEST
from streamer.errors import PlanError, Problem, RopewalkError
from streamer.logbook.records import Sort, Subject
from streamer.logbook.store import Logbook, logbook_path
from streamer.prove.noted import NotedWalk
from streamer.prove.walk import Proof

STANDARD_INPUT = "-"
EPILOG = """Examples:

\b
  ropewalk prove display.toml                 go on where you were
  ropewalk prove display.toml --port jetty/2  that string again
  ropewalk prove display.toml --again         everything, from the first look

Exit codes: 0 everything is proven; 1 it is not, or FILE or something else is wrong; 2 the command line
was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--port", "ports", multiple=True, metavar="NAME", help="Ask about this string or fixture again."
)
@click.option("--again", is_flag=True, help="Ask about everything again, from the first look.")
@click.option("--to", metavar="ADDRESS", help="Send here instead of to the controllers' own addresses.")
@click.option("--interface", metavar="NAME|ADDRESS", help="Which to leave by: see ropewalk interfaces.")
@click.option(
    "--level",
    type=Finite(LOOK_LOW_PERCENT, 100),
    metavar="PERCENT",
    default=LEVEL_DEFAULT_PERCENT,
    help=f"Of full brightness, for every look.  [{LEVEL_DEFAULT_PERCENT:g}]",
)
@fewer_flashes
@click.option("--anyway", is_flag=True, help="Even if another run of yours sends the same universes.")
@click.option(
    "--answers",
    type=click.Choice([STANDARD_INPUT]),
    help="Speak JSON lines: looks on standard output, answers from standard input. See the README.",
)
def prove(  # noqa: PLR0913  one for each option
    *,
    file: Path,
    ports: tuple[str, ...],
    again: bool,
    to: str | None,
    interface: str | None,
    level: float,
    flashes: int | None,
    anyway: bool,
    answers: str | None,
) -> None:
    """Walk through the display, one look and one key at a time.

    Every answer is on the disk, in the logbook beside FILE, before the next look comes; leave at any time
    and go on another day. In the end every string and fixture is proven, at fault, or not looked at.
    """
    display = _display(file, to)
    subjects = _subjects(display, ports)
    try:
        with ending_signals() as is_asked_to_end, closing(Logbook(logbook_path(file))) as book:
            noted = NotedWalk(display, book)
            if again or subjects:
                noted.begin_again(_now(), () if again else subjects)
            setup = Setup(display=display, as_hung=display, interface=interface, flashes_per_s=flashes)
            lights = Lights(setup, "prove")
            keys = Keys(sys.stdin, lights.attend, is_asked_to_end)
            where = target(file, to)
            asker: Asker = JsonLines(keys, where, level) if answers else Prompt(keys, where)
            if noted.walk.is_over:
                asker.close(noted.walk)
            else:
                if not anyway:
                    check_rivals(setup, WIDEST)
                if are_real(setup):
                    complain(fill(_caution(level), shutil.get_terminal_size().columns))
                with lights, keys.at_once():
                    walk_through(noted, lambda look: lights.put_up(look.show(level), look.step), asker, _now)
    except RopewalkError as error:
        complain(str(error))
        if answers:
            say_json({"kind": "error", "reason": str(error)})
        sys.exit(exit_code(error))
    sys.exit(0 if set(noted.walk.proofs.values()) <= {Proof.PROVEN} else FOUND_WRONG)


def _now() -> datetime:
    return datetime.now(tz=UTC).astimezone()


def _caution(level_percent: float) -> str:
    return (
        f"Caution: real lights change, at {level_percent:g} %, some also on the universes next to yours: "
        "nobody on a ladder or at the wiring should be surprised; stop if a lead or a supply grows hot."
    )


def _display(file: Path, to: str | None) -> Display:
    return sent_to(load(file), (to,) if to else ())


def _subjects(display: Display, names: tuple[str, ...]) -> tuple[Subject, ...]:
    strings = [port.name for port in display.ports]
    fixtures = [fixture.name for controller in display.controllers for fixture in controller.fixtures]
    unknown = [name for name in names if name not in strings and name not in fixtures]
    if unknown:
        listed = ", ".join(map(plain, [*strings, *fixtures]))
        problems = [Problem("--port", f"there is no {name!r}", f"There are {listed}") for name in unknown]
        raise PlanError(problems)
    return tuple(Subject(Sort.STRING if name in strings else Sort.FIXTURE, name) for name in names)
