"""Begins and ends a night run for the screen: a command of its own, which outlives the screen."""

import subprocess
import sys
from pathlib import Path

from streamer.cli.soaking import run_name
from streamer.engine.client import attach, client_name
from streamer.engine.messages import Ended, Setup, Stop, TakeControl
from streamer.engine.waiting import wait_for
from streamer.errors import PlanError, Problem
from streamer.link.folders import runtime_folder
from streamer.soak.durations import parse_moment
from streamer.soak.programme import parse_programme

LOG = "night.log"


def begin(file: Path, setup: Setup, level_percent: float, until: str, programme: str) -> None:
    """Start it; PlanError for what was written wrong, LinkError where it cannot be started."""
    parse_moment(until, "until")
    if programme:
        parse_programme(programme, "programme")
    words = ["soak", str(file.resolve()), "--until", until, "--level", f"{level_percent:g}"]
    words += ["--programme", programme] if programme else []
    words += ["--interface", setup.interface] if setup.interface else []
    command = [sys.executable, "-P", "-c", "from tui.command import main; main()", *words]
    with log_path().open("wb") as log:
        # A session of its own: neither Ctrl-C nor the terminal's closing reaches it.
        subprocess.Popen(  # noqa: S603  our own command, in this interpreter
            command, stdin=subprocess.DEVNULL, stdout=log, stderr=log, start_new_session=True
        )


def log_path() -> Path:
    """Return where the run that the screen began says what it has to say."""
    return runtime_folder() / LOG


def last_words() -> str:
    """Return the last line of that."""
    try:
        lines = log_path().read_text("utf-8", "replace").splitlines()
    except OSError:
        return ""
    return lines[-1] if lines else ""


def end(file: Path) -> None:
    """Have its lights go dark and the run end; LinkError when it does not answer."""
    link = attach(run_name(file), client_name("screen"), control=False)
    try:
        link.send(TakeControl())
        link.send(Stop())
        wait_for(link, Ended)
    finally:
        link.close()


def need_file(file: Path | None) -> Path:
    """Return the display file; PlanError where the display came from none: the journal is beside it."""
    if file is None:
        what = "the display in hand is from no file"
        raise PlanError(
            [Problem("night run", what, "Choose a display file with d: the journal is beside it")]
        )
    return file
