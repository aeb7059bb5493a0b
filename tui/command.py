"""The `ropewalk` command: the commands of `streamer.cli`, and those that open the screen.

Nothing here loads the screen before it is asked for.
"""

import json
import sys
from pathlib import Path

import click

from streamer.cli import COMMANDS
from streamer.cli.common import FOUND_WRONG, complain, say, telling_errors
from streamer.cli.runs import only_run

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
SCREEN_RUN = "screen"
"""The name of the engine that the screen starts; a second screen attaches to it."""


@click.group(invoke_without_command=True, context_settings=CONTEXT)
@click.version_option(package_name="ropewalk")
@click.pass_context
def main(context: click.Context) -> None:
    """Walk strings of lights: test patterns over E1.31 (sACN) and Art-Net, and what became of them.

    Without a command the screen opens. Exit codes: 0 fine, 1 the job found something wrong, 2 the
    command line was wrong.
    """
    if context.invoked_subcommand is None:
        context.invoke(ui)


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@telling_errors
def ui(file: Path | None = None) -> None:
    """Open the screen, on a display FILE if one is given. Nothing is sent before you say so."""
    _need_terminal("ropewalk send --help")
    from streamer.display.file import load
    from streamer.engine.messages import Setup
    from tui.opening import engine_of_the_screen
    from tui.start import run

    setup = Setup(display=load(file)) if file else None
    sys.exit(run(engine_of_the_screen(SCREEN_RUN), setup))


@click.command()
@click.argument("name", required=False)
@telling_errors
def attach(name: str | None) -> None:
    """Open the screen on a run that goes on in the background."""
    _need_terminal("ropewalk runs")
    from streamer.engine.client import attach as attach_to
    from streamer.engine.client import client_name
    from tui.start import run

    sys.exit(run(attach_to(only_run(name), client_name("screen"), control=True)))


@click.command()
@click.option("--no-ui", is_flag=True, help="Run unattended, check every packet, and say what was found.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON; implies --no-ui.")
@click.option("--seconds", type=click.FloatRange(1, 600), default=6.0, show_default=True, help="How long.")
@telling_errors
def demo(*, no_ui: bool, as_json: bool, seconds: float) -> None:
    """Play on an invented display whose virtual controllers receive real packets on this machine.

    Where there is no terminal it runs unattended, and exits with 0 only if every packet was right.
    """
    if no_ui or as_json or not sys.stdout.isatty():
        from streamer.demo.unattended import run_unattended

        findings = run_unattended(seconds)
        say(json.dumps(findings.as_dict(), indent=2) if as_json else findings.text())
        sys.exit(0 if findings.all_right else FOUND_WRONG)
    from tui.opening import run_demo

    sys.exit(run_demo())


def _need_terminal(instead: str) -> None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        complain(f"The screen needs a terminal. Without one: {instead}")
        sys.exit(2)


for command in (ui, attach, demo, *COMMANDS):
    main.add_command(command)
