"""The `ropewalk` command and its smaller subcommands.

Exit codes: 0 fine, 1 the job found something wrong, 2 the command line was wrong.
"""

import json
import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, say, telling_errors
from streamer.cli.runs import attach_command, runs, stop
from streamer.cli.send import send

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}
FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


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


@main.command()
@click.argument("file", type=FILE, required=False)
@telling_errors
def ui(file: Path | None) -> None:
    """Open the screen, on a display FILE if one is given."""
    from streamer.display.file import load

    if not sys.stdout.isatty():
        raise click.UsageError("The screen needs a terminal. `ropewalk send --help` works without one.")
    display = load(file) if file else None
    from tui.start import run

    sys.exit(run(display=display))


@main.command()
@click.option("--no-ui", is_flag=True, help="Run unattended, check every packet, and say what was found.")
@click.option("--json", "as_json", is_flag=True, help="With --no-ui: print the findings as JSON.")
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
    from tui.start import run_demo

    sys.exit(run_demo())


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
def check(file: Path, *, as_json: bool) -> None:
    """Check a display FILE: every problem at once, with its place and what to write instead."""
    from streamer.cli.checking import check_file

    text, is_right = check_file(file, as_json=as_json)
    say(text)
    sys.exit(0 if is_right else FOUND_WRONG)


@main.command()
@click.argument("file", type=click.Path(path_type=Path))
@telling_errors
def new(file: Path) -> None:
    """Write a commented display FILE to start from. Nothing is ever overwritten."""
    from streamer.display.starter import write_starter

    write_starter(file)
    say(f"{file}: written. Change it to your display, then: ropewalk check {file}")


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def interfaces(*, as_json: bool) -> None:
    """List the network interfaces that packets can leave by."""
    from streamer.cli.listing import interfaces_text

    say(interfaces_text(as_json=as_json))


@main.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def patterns(*, as_json: bool) -> None:
    """List the patterns, what each shows, and its parameters."""
    from streamer.cli.listing import patterns_text

    say(patterns_text(as_json=as_json))


@main.command()
@click.argument("file", type=FILE)
@click.option("--fault", "faults", multiple=True, metavar="PORT=FAULT", help="Such as jetty/1=break:37.")
@click.option("--seconds", type=click.FloatRange(min=0, min_open=True), help="End after so long.")
@click.option("--json", "as_json", is_flag=True, help="One JSON line a second.")
@telling_errors
def yard(file: Path, *, faults: tuple[str, ...], seconds: float | None, as_json: bool) -> None:
    """Be the controllers of a display FILE, on loopback: receive real packets and say what the lights show."""
    from streamer.cli.yards import be_the_yard

    sys.exit(be_the_yard(file, faults, seconds, as_json=as_json))


for command in (send, runs, attach_command, stop):
    main.add_command(command)
