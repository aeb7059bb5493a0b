"""What `ropewalk doctor` does: the file first, then the chain, told as it goes or as one JSON object."""

from collections.abc import Iterator
from pathlib import Path

from streamer.cli.common import complain, counted, say, say_json
from streamer.cli.doctor_text import check_lines, end_lines
from streamer.cli.symptoms import Symptoms
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.doctor.chain import examine
from streamer.doctor.checks import Check, Link, State, first_broken
from streamer.errors import PlanError, RopewalkError

LOOKED_AT = "the file, as ropewalk check does"
STOPPED = "Stopped before the end."


def visit(file: Path, interface: str | None, seconds: float, *, as_json: bool) -> bool:
    """Go along the chain, and tell it; whether nothing is broken and the end was reached."""
    checks: list[Check] = []
    trouble = ""
    try:
        for check in _checks(file, interface, seconds):
            checks.append(check)
            if not as_json:
                say("\n".join(check_lines(check)))
    except KeyboardInterrupt:
        trouble = STOPPED
    except RopewalkError as error:
        trouble = str(error)
    if as_json:
        say_json(_as_dict(file, checks, trouble), indent=2)
    else:
        say("\n".join(end_lines(checks, trouble)))
    if trouble and as_json:
        complain(trouble)
    return first_broken(checks) is None and not trouble


def _checks(file: Path, interface: str | None, seconds: float) -> Iterator[Check]:
    name = plain(str(file))
    try:
        display = load(file)
    except PlanError as error:
        yield _file_broken(name, error)
        return
    yield Check(Link.FILE, name, State.WELL, LOOKED_AT, f"it is right, with {_words(display)}")
    with Symptoms(seconds) as eyes:
        yield from examine(display, interface, eyes)


def _file_broken(name: str, error: PlanError) -> Check:
    first, more = error.problems[0], len(error.problems) - 1
    others = f" And {counted(more, 'more problem')}: ropewalk check {name} tells them all" if more else ""
    what = f"{first.place}: {first.what}"
    return Check(Link.FILE, name, State.BROKEN, LOOKED_AT, what, f"{first.instead}.{others}".rstrip("."))


def _words(display: Display) -> str:
    ports, controllers = len(display.ports), len(display.controllers)
    return f"{counted(controllers, 'controller')}, {counted(ports, 'port')}"


def _as_dict(file: Path, checks: list[Check], trouble: str) -> dict[str, object]:
    broken = first_broken(checks)
    return {
        "ok": broken is None and not trouble,
        "file": str(file),
        "first_broken": broken.as_dict() if broken else None,
        "checks": [each.as_dict() for each in checks],
        "trouble": trouble,
    }
