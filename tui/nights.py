"""Begins and ends a night run for the screen: a command of its own, which outlives the screen."""

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from streamer.cli.soak import BESIDE_ANOTHER
from streamer.cli.soaking import run_name
from streamer.engine.client import STOPPER, attach, client_name
from streamer.engine.messages import Ended, Setup, Stop, TakeControl
from streamer.engine.waiting import wait_for
from streamer.errors import LinkError, PlanError, Problem
from streamer.link.folders import runtime_folder
from streamer.soak.durations import parse_duration, parse_moment
from streamer.soak.programme import parse_programme
from streamer.soak.seen import seen

LOG = "night.log"
TROUBLE = "night.trouble.log"
"""What it complains of, apart from what it tells of how it goes."""
LINES_TOLD_MOST = 5


@dataclass(frozen=True, slots=True)
class Begun:
    """The command that leads a night run, as the screen has begun it."""

    process: subprocess.Popen[bytes]

    @property
    def last_words(self) -> str:
        """Why it cannot begin, a line for each reason; before that the last line that it told."""
        reasons = _lines(trouble_path())[-LINES_TOLD_MOST:]
        return "\n".join(reasons or _lines(log_path())[-1:])

    @property
    def is_beside_another(self) -> bool:
        """Whether it did not begin, since another run sends to the same place."""
        return self.process.poll() == BESIDE_ANOTHER


def begin(  # noqa: PLR0913  what the sheet asks
    file: Path, setup: Setup, level_percent: float, until: str, programme: str, *, anyway: bool = False
) -> Begun:
    """Start it; PlanError for what was written wrong, LinkError where one goes on already.

    `anyway` is even beside another run that sends to the same place.
    """
    before = seen(file, time.time())
    if before is not None and before.is_running:
        raise LinkError("A night run of this display goes on. End it first: F9.")
    how_long = _how_long(until)
    if programme:
        parse_programme(programme, "programme")
    words = [*how_long, "--level", f"{level_percent:g}"]
    words += ["--programme", programme] if programme else []
    words += ["--interface", setup.interface] if setup.interface else []
    words += ["--flashes", str(setup.flashes_per_s)] if setup.flashes_per_s else []
    return _start(file, words, anyway=anyway)


def go_on(file: Path, *, anyway: bool = False) -> Begun:
    """Go on in the run that was broken off, as it was asked for; LinkError where there is none such."""
    before = seen(file, time.time())
    if before is None or not before.may_go_on:
        raise LinkError("No run was broken off whose time is not over. Begin one: Enter.")
    return _start(file, ["--resume"], anyway=anyway)


def _start(file: Path, words: list[str], *, anyway: bool) -> Begun:
    start = [sys.executable, "-P", "-c", "from tui.command import main; main()"]
    command = [*start, "soak", str(file.resolve()), *words, *(["--anyway"] if anyway else [])]
    with log_path().open("wb") as log, trouble_path().open("wb") as trouble:
        # A session of its own: neither Ctrl-C nor the terminal's closing reaches it.
        process = subprocess.Popen(  # noqa: S603  our own command, in this interpreter
            command, stdin=subprocess.DEVNULL, stdout=log, stderr=trouble, start_new_session=True
        )
    return Begun(process)


def _how_long(until: str) -> tuple[str, str]:
    """Return the option for a time of day, or for how long."""
    if any(letter in until for letter in "hms"):
        parse_duration(until, "until")
        return "--for", until
    parse_moment(until, "until")
    return "--until", until


def log_path() -> Path:
    """Return where the run that the screen began says what it has to say."""
    return runtime_folder() / LOG


def trouble_path() -> Path:
    """Return where it says why it cannot begin."""
    return runtime_folder() / TROUBLE


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text("utf-8", "replace").splitlines()
    except OSError:
        return []


def is_on(file: Path) -> bool:
    """Say whether a night run of this display goes on."""
    run = seen(file, time.time())
    return run is not None and run.is_running


def end(file: Path) -> None:
    """Have its lights go dark and the run end; LinkError when it does not answer."""
    try:
        link = attach(run_name(file), client_name(STOPPER), control=False)
    except LinkError:
        # Its engine is just being started, for the first time or anew: the run itself heeds this as well.
        run = seen(file, time.time())
        if run is None or run.run.ended or not run.process:
            raise
        _ask_to_end(run.process)
        return
    try:
        link.send(TakeControl())
        link.send(Stop())
        wait_for(link, Ended)
    finally:
        link.close()


def _ask_to_end(process: int) -> None:
    try:
        os.kill(process, signal.SIGTERM)
    except OSError as error:
        raise LinkError(f"The run's process {process} cannot be asked to end ({error.strerror}).") from error


def need_file(file: Path | None) -> Path:
    """Return the display file; PlanError where the display came from none: the journal is beside it."""
    if file is None:
        what = "the display in hand is from no file"
        raise PlanError(
            [Problem("night run", what, "Choose a display file with d: the journal is beside it")]
        )
    return file
