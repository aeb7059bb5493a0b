"""The commands on display files, and the lists: check, new, yard, interfaces, patterns."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, say, telling_errors


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
def check(file: Path, *, as_json: bool) -> None:
    """Check a display FILE: every problem at once, with its place and what to write instead."""
    from streamer.cli.checking import check_file

    text, is_right = check_file(file, as_json=as_json)
    say(text)
    sys.exit(0 if is_right else FOUND_WRONG)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@telling_errors
def new(file: Path) -> None:
    """Write a commented display FILE to start from. Nothing is ever overwritten."""
    from streamer.display.starter import write_starter

    write_starter(file)
    say(f"{file}: written. Change it to your display, then: ropewalk check {file}")


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def interfaces(*, as_json: bool) -> None:
    """List the network interfaces that packets can leave by."""
    from streamer.cli.listing import interfaces_text

    say(interfaces_text(as_json=as_json))


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def patterns(*, as_json: bool) -> None:
    """List the patterns, what each shows, and its parameters."""
    from streamer.cli.listing import patterns_text

    say(patterns_text(as_json=as_json))


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--fault", "faults", multiple=True, metavar="PORT=FAULT", help="Such as jetty/1=break:37.")
@click.option("--seconds", type=click.FloatRange(min=0, min_open=True), help="End after so long.")
@click.option("--json", "as_json", is_flag=True, help="One JSON line a second.")
@telling_errors
def yard(file: Path, *, faults: tuple[str, ...], seconds: float | None, as_json: bool) -> None:
    """Be the controllers of a display FILE, on loopback: receive real packets and say what the lights show."""
    from streamer.cli.yards import be_the_yard

    sys.exit(be_the_yard(file, faults, seconds, as_json=as_json))

