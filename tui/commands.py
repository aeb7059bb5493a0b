"""The `ropewalk` command: the commands of `streamer.cli`, and those that open the screen.

Nothing here loads the screen before it is asked for.
"""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from streamer.cli.common import USAGE, complain
from streamer.cli.fewer_flashes import fewer_flashes
from streamer.cli.group import Commands, Entry
from streamer.cli.numbers import Finite

if TYPE_CHECKING:
    from streamer.engine.messages import Setup

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
SCREEN_RUN = "screen"
"""The name of the engine that the screen starts; a second screen attaches to it."""
EXIT_CODES = (
    "Exit codes: 0 fine, 1 the job found something wrong, or a file is not right, 2 the command line was "
    "wrong."
)

ENTRIES = {
    "demo": Entry(
        "tui.commands:demo", "See it work without lights: an invented display, real packets on this machine."
    ),
    "ui": Entry("tui.commands:ui", "Open the screen; nothing is sent before you say so."),
    "send": Entry("streamer.cli.send:send", "Play one pattern without a screen."),
    "prove": Entry("streamer.cli.prove:prove", "Walk through the display, one look and one key at a time."),
    "report": Entry("streamer.cli.report:report", "Say what a night run has shown, on one page."),
    "log": Entry("streamer.cli.log:log", "Show what was proven, found and fixed, and what is open."),
    "soak": Entry(
        "streamer.cli.soak:soak", "Keep the display working through the night, and watch everything."
    ),
    "hear": Entry("streamer.cli.hear:hear", "Listen: who sends which universe, how it arrives, who wins."),
    "scan": Entry("streamer.cli.scan:scan", "Find who is there, and compare with the display file."),
    "doctor": Entry(
        "streamer.cli.doctor:doctor", "Look for the broken link between a display file and its lights."
    ),
    "record": Entry("streamer.cli.record:record", "Keep what is heard in a capture file."),
    "replay": Entry("streamer.cli.replay:replay", "Stream a capture file again, at its own pace or another."),
    "find": Entry(
        "streamer.cli.find:find", "Find what is the matter with one port, or go through all of them."
    ),
    "count": Entry(
        "streamer.cli.find:count", "Count the nodes of one string, or of all, those past the plan too."
    ),
    "new": Entry("streamer.cli.plans:new", "Write a commented display file to start from."),
    "check": Entry("streamer.cli.plans:check", "Check a display file: every problem at once."),
    "plan": Entry("streamer.cli.plan:plan", "Work out a display file: addresses, times, network, power."),
    "yard": Entry("streamer.cli.plans:yard", "Be the controllers of a display file, on this machine."),
    "patterns": Entry("streamer.cli.plans:patterns", "List the patterns and their parameters."),
    "interfaces": Entry("streamer.cli.plans:interfaces", "List the network interfaces to send by."),
    "runs": Entry("streamer.cli.runs:runs", "List what is playing on this machine."),
    "attach": Entry("tui.commands:attach", "Open the screen on something that is playing."),
    "stop": Entry("streamer.cli.runs:stop", "Stop something that is playing: lights dark, streams ended."),
}


@click.group(
    cls=Commands, entries=ENTRIES, invoke_without_command=True, context_settings=CONTEXT, epilog=EXIT_CODES
)
@click.version_option(package_name="ropewalk")
@click.pass_context
def ropewalk(context: click.Context) -> None:
    """Walk strings of lights: test patterns over E1.31 (sACN) and Art-Net, and what became of them.

    Without a command the screen opens; the first thing to try is: ropewalk demo
    """
    if context.invoked_subcommand is None:
        context.invoke(ui)


@click.command(epilog=EXIT_CODES)
@click.argument("file", type=click.Path(path_type=Path), required=False)
@fewer_flashes
def ui(file: Path | None = None, flashes: int | None = None) -> None:
    """Open the screen; nothing is sent before you say so.

    With a display FILE it opens on that; else on what it showed last.
    """
    if flashes is not None and file is None:
        raise click.UsageError("--flashes is for a display FILE that is named with it.")
    _need_terminal("ropewalk send --help")
    setup = _setup_of(file, flashes) if file else None
    from tui.opening import engine_of_the_screen
    from tui.start import run

    sys.exit(run(engine_of_the_screen(SCREEN_RUN), setup, display_file=file))


def _setup_of(file: Path, flashes_per_s: int | None) -> "Setup":
    from streamer.display.file import load
    from streamer.engine.messages import Setup

    return Setup(display=load(file), flashes_per_s=flashes_per_s)


@click.command(epilog=EXIT_CODES)
@click.argument("name", required=False)
def attach(name: str | None) -> None:
    """Open the screen on something that is playing.

    NAME is one that `ropewalk runs` lists; it may be left out where there is only one.
    """
    _need_terminal("ropewalk runs")
    from streamer.cli.runs import only_run
    from streamer.engine.client import attach as attach_to
    from streamer.engine.client import client_name
    from tui.start import run

    sys.exit(run(attach_to(only_run(name), client_name("screen"), control=True)))


@click.command(epilog=EXIT_CODES)
@click.option("--no-ui", is_flag=True, help="Run unattended, check every packet, and say what was found.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON; implies --no-ui.")
@click.option(
    "--seconds", type=Finite(1, 600), default=6.0, show_default=True, help="How long to play unattended."
)
def demo(*, no_ui: bool, as_json: bool, seconds: float) -> None:
    """See it work without lights: an invented display, real packets on this machine.

    Its virtual controllers receive what is sent, and the screen shows both. Where there is no terminal it
    runs unattended: every packet is checked octet for octet, and what the lights show is compared with the
    patterns. Then it exits with 0 only if everything that arrived was right.
    """
    if no_ui or as_json or not _has_terminal():
        from streamer.cli.demonstrating import demonstrate

        sys.exit(demonstrate(seconds, as_json=as_json))
    from tui.opening import run_demo

    sys.exit(run_demo())


def _has_terminal() -> bool:
    # Each may be None, for a process that was started without it.
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr))


def _need_terminal(instead: str) -> None:
    if not _has_terminal():
        complain(f"The screen needs a terminal. Without one: {instead}")
        sys.exit(USAGE)
