"""`ropewalk plan`: what a display asks of lines, controllers and network, before anything hangs."""

import sys
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, complain, only_one, say, say_json
from streamer.cli.numbers import Finite

EPILOG = "Exit codes: 0 the plan can work, 1 something in it cannot, 2 the command line was wrong."


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--rate", "rate_hz", type=Finite(1, 44), help="Frames a second that it has to show.  [default: 40]"
)
@click.option("--interface", metavar="NAME", help="The network interface to send by; a name or an address.")
@click.option(
    "--wireless/--wired",
    "wireless",
    default=None,
    help="Whether the way to the controllers is through the air; else it is looked up on this machine.",
)
@click.option(
    "--level",
    "level_percent",
    type=Finite(0, 100),
    help="Brightness in percent that the currents are planned for.  [default: 30]",
)
@click.option("--now", is_flag=True, help="Add the current of the frame that this display is being sent now.")
@click.option("--channels", is_flag=True, help="Print a row for each node and fixture channel, as CSV.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.option(
    "--html",
    "page",
    metavar="PAGE",
    type=click.Path(path_type=Path),
    help="Write a page to print and tape inside each controller's lid.",
)
def plan(  # noqa: PLR0913  one parameter an option
    file: Path,
    *,
    rate_hz: float | None,
    interface: str | None,
    wireless: bool | None,
    level_percent: float | None,
    now: bool,
    channels: bool,
    as_json: bool,
    page: Path | None,
) -> None:
    """Work out a display file: addresses, times, network, power.

    First what would go wrong in FILE, where, and what to do; then every port, universe and absolute channel.
    Nothing is sent.
    """
    only_one({"--channels": channels, "--json": as_json, "--html": page is not None})
    from streamer.cli.planning import asked_of, host_of, reckoned_power
    from streamer.display.file import load
    from streamer.plan.report import plan_of

    display = load(file)
    if channels:
        from streamer.cli.plan_csv import csv_text

        say(csv_text(display))
        return
    host = host_of(display, interface, wireless=wireless)
    power = reckoned_power(display, level_percent, is_now=now)
    made = plan_of(display, asked_of(rate_hz), host, power)
    if as_json:
        say_json(made.as_dict(), indent=2)
    elif page is None:
        from streamer.cli.plan_text import plan_text

        say(plan_text(made))
    else:
        from streamer.cli.planning import write_page

        say(write_page(made, display, page))
        for finding in made.findings:
            complain(f"{finding.place}: {finding.what}. {finding.instead}")
    sys.exit(0 if made.works else FOUND_WRONG)
