"""What `ropewalk yard FILE` does: hold a yard open and write down once a second what its lights show."""

import json
from collections.abc import Callable, Mapping, Sequence

from streamer.display.model import Display
from streamer.errors import RopewalkError
from streamer.yard.client import USUAL_NAME
from streamer.yard.faults import Fault
from streamer.yard.picture import lines, picture
from streamer.yard.process import run
from streamer.yard.yard import Yard


def yard_command(
    display: Display,
    *,
    json_lines: bool,
    faults: Mapping[str, Sequence[Fault]],
    seconds: float | None,
    write: Callable[[str], None],
) -> int:
    """Hold a yard of a display open for so many seconds, or until a signal; return the exit code.

    `write` gets whole lines without their end: with `json_lines` one JSON object a second, else text.
    What stops the yard from opening (a taken port, an impossible fault) is written too, and the code is 1.
    """

    def out(yard: Yard, passed_s: float, now: float) -> None:
        if json_lines:
            write(json.dumps(picture(yard, passed_s, now), separators=(",", ":")))
        else:
            for line in lines(yard, passed_s, now):
                write(line)

    try:
        run(display, faults=faults, link_name=USUAL_NAME, seconds=seconds, out=out)
    except RopewalkError as error:
        write(json.dumps({"error": str(error)}) if json_lines else str(error))
        return 1
    return 0
