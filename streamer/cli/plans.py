"""The commands on display files, and the lists: check, new, yard, interfaces, patterns."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, say
from streamer.cli.numbers import Finite

FILE = click.argument("file", type=click.Path(path_type=Path))
JSON = click.option("--json", "as_json", is_flag=True, help="Print as JSON.")


@click.command(epilog="Exit codes: 0 the file is right, 1 it is not, 2 the command line was wrong.")
@FILE
@click.option("--json", "as_json", is_flag=True, help="Print the problems, or what the file plans, as JSON.")
def check(file: Path, *, as_json: bool) -> None:
    """Check a display file: every problem at once.

    Each comes with its line in FILE and with what to write instead.
    """
    from streamer.cli.checking import check_file

    text, is_right = check_file(file, as_json=as_json)
    say(text)
    sys.exit(0 if is_right else FOUND_WRONG)


@click.command()
@FILE
def new(file: Path) -> None:
    """Write a commented display file to start from.

    It is valid as it is, and has every key of the format in it. Nothing is ever overwritten.
    """
    from streamer.display.places import plain
    from streamer.display.starter import write_starter

    write_starter(file)
    name = plain(str(file))
    say(f"{name}: written. Change it to your display, then: ropewalk check {name}")


@click.command()
@JSON
def interfaces(*, as_json: bool) -> None:
    """List the network interfaces to send by.

    Give `ropewalk send --interface` a name or an address from this list.
    """
    from streamer.cli.listing import interfaces_text

    say(interfaces_text(as_json=as_json))


@click.command()
@JSON
def patterns(*, as_json: bool) -> None:
    """List the patterns and their parameters.

    For each: what it does, what you should see, and which fault that shows.
    """
    from streamer.cli.listing import patterns_text

    say(patterns_text(as_json=as_json))


@click.command()
@FILE
@click.option(
    "--fault",
    "faults",
    multiple=True,
    metavar="PORT=FAULT",
    help="Give a port a fault, such as jetty/1=break:37; may be given again. A wrong one is answered with "
    "the list of all faults.",
)
@click.option("--seconds", type=Finite(min=0, min_open=True), help="End after so long; else Ctrl-C ends it.")
@click.option(
    "--json", "as_json", is_flag=True, help="One JSON line a second, with the colour of every node."
)
def yard(file: Path, *, faults: tuple[str, ...], seconds: float | None, as_json: bool) -> None:
    """Be the controllers of a display file, on this machine.

    Receives what is sent to FILE's controllers at loopback addresses (those without one listen at
    127.0.0.1) and says once a second what the lights would show.
    """
    from streamer.cli.yards import be_the_yard

    sys.exit(be_the_yard(file, faults, seconds, as_json=as_json))
