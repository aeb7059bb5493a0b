"""The yard as a process of its own: started for a client, or by `ropewalk yard`.

`python -m streamer.yard.process NAME [CLIENT]` reads a display as JSON from standard input. Started for
a client it ends when nobody is attached any more; without one it goes on until it is asked to end.
"""

import json
import sys
from collections.abc import Callable, Mapping, Sequence

from pydantic import ValidationError

from streamer.display.model import Display
from streamer.errors import LinkError, NetworkError, PlanError, Problem
from streamer.link.processes import as_process
from streamer.yard.client import SUFFIX, USUAL_NAME
from streamer.yard.faults import Fault
from streamer.yard.loop import run
from streamer.yard.others import in_the_way
from streamer.yard.picture import lines, picture
from streamer.yard.yard import Yard


def yard_command(
    display: Display,
    *,
    json_lines: bool,
    faults: Mapping[str, Sequence[Fault]],
    seconds: float | None,
    write: Callable[[str], None],
) -> None:
    """Hold a yard of a display open for so many seconds, or until a signal.

    `write` gets whole lines without their end: with `json_lines` one JSON object a second, else text.
    Raises as `run` does; LinkError, with what to do, where another yard holds the ports.
    """

    def out(yard: Yard, passed_s: float, now: float) -> None:
        if json_lines:
            write(json.dumps(picture(yard, passed_s, now), separators=(",", ":")))
        else:
            for line in lines(yard, passed_s, now):
                write(line)

    try:
        run(display, faults=faults, link_name=USUAL_NAME, seconds=seconds, out=out)
    except NetworkError as error:
        if words := in_the_way():
            raise LinkError(words) from error
        raise


def read_display(octets: bytes) -> Display:
    """Read a display from JSON; PlanError for anything else."""
    try:
        return Display.model_validate_json(octets)
    except ValidationError as error:
        problem = Problem("standard input", f"is no display: {error}", "Write one as JSON")
        raise PlanError([problem]) from error


def main() -> int:
    """Run the yard called by the first argument, for the client in the second."""
    name, started_by = sys.argv[1], "".join(sys.argv[2:3])

    def hold_open() -> None:
        run(read_display(sys.stdin.buffer.read()), faults={}, link_name=name, started_by=started_by)

    return as_process(hold_open, name, SUFFIX)


if __name__ == "__main__":
    sys.exit(main())
