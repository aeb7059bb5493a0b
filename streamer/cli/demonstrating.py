"""`ropewalk demo --no-ui`: plays the demo unattended and prints the findings, in words or as JSON."""

from streamer.cli.common import FOUND_WRONG, complain, say, say_json
from streamer.demo.unattended import run_unattended
from streamer.ending import ending_signals
from streamer.errors import RopewalkError


def demonstrate(seconds: float, *, as_json: bool) -> int:
    """Play for so many seconds and return the exit code."""
    try:
        with ending_signals() as is_asked_to_end:
            findings = run_unattended(seconds, is_asked_to_end)
    except RopewalkError as error:
        complain(str(error))
        if as_json:
            say_json({"all_right": False, "error": str(error)})
        return FOUND_WRONG
    if as_json:
        say_json(findings.as_dict(), indent=2)
    else:
        say(findings.text())
    return 0 if findings.all_right else FOUND_WRONG
