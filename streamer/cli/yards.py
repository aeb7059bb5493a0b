"""`ropewalk yard`: the virtual controllers of a display file, with faults given on the command line."""

from collections import defaultdict
from pathlib import Path

from streamer.cli.common import complain, exit_code, say, say_json
from streamer.cli.order import check_port_then_words
from streamer.display.file import load
from streamer.display.model import Display
from streamer.errors import PlanError, Problem, RopewalkError
from streamer.yard.faults import Fault
from streamer.yard.process import yard_command
from streamer.yard.words import parse_fault


def be_the_yard(file: Path, faults: tuple[str, ...], seconds: float | None, *, as_json: bool) -> int:
    """Run until stopped and return the exit code; what stops it from opening is told, in JSON too."""
    try:
        display = load(file)
        given = _given(display, faults)
        yard_command(display, json_lines=as_json, faults=given, seconds=seconds, write=say)
    except RopewalkError as error:
        complain(str(error))
        if as_json:
            say_json({"error": str(error)})
        return exit_code(error)
    return 0


def _given(display: Display, texts: tuple[str, ...]) -> dict[str, list[Fault]]:
    names = [port.name for port in display.ports]
    given: dict[str, list[Fault]] = defaultdict(list)
    for text in texts:
        port, _, fault = text.partition("=")
        check_port_then_words("--fault", port, fault, names, "=")
        if port not in names:
            raise PlanError(
                [
                    Problem(
                        "--fault",
                        f"there is no port {port!r}",
                        f"Write PORT=FAULT with one of {', '.join(names)}",
                    )
                ]
            )
        given[port].append(parse_fault(fault))
    return given
