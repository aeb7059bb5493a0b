"""`ropewalk log`: what was proven, found, fixed and proven again; what is open; and a pen to add to it."""

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import click

from streamer.cli.common import only_one, say
from streamer.cli.order import check_port_then_words
from streamer.display.file import load
from streamer.display.model import Display
from streamer.display.places import plain
from streamer.logbook.fingerprint import fingerprints
from streamer.logbook.pens import penned
from streamer.logbook.records import Kind
from streamer.logbook.standing import standings
from streamer.logbook.store import Logbook, logbook_path, read_logbook
from streamer.logbook.wording import event

EPILOG = """Examples:

\b
  ropewalk log display.toml --open                      what is left to do
  ropewalk log display.toml --fixed jetty/2 "new lead"  then prove it again
  ropewalk log display.toml --html > logbook.html       to print

Exit codes: 0 fine, 1 the file or its logbook is wrong, 2 the command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--open", "only_open", is_flag=True, help="Only what is open: the punch list.")
@click.option("--csv", "as_csv", is_flag=True, help="Print as CSV: every entry, or with --open what is open.")
@click.option("--html", "as_html", is_flag=True, help="Print as one HTML page, to be printed on paper.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
@click.option("--fixed", nargs=2, metavar="PORT NOTE", help="Note that it is mended, and how.")
@click.option("--note", nargs=2, metavar="PORT NOTE", help="Note something about it.")
def log(  # noqa: PLR0913  one for each option
    *,
    file: Path,
    only_open: bool,
    as_csv: bool,
    as_html: bool,
    as_json: bool,
    fixed: tuple[str, str] | None,
    note: tuple[str, str] | None,
) -> None:
    """Show what was proven, found and fixed, and what is open.

    For every string and fixture of FILE, with when. Where FILE has changed since something was proven, it
    says which proof no longer holds, and why.
    """
    as_what = only_one({"--csv": as_csv, "--html": as_html, "--json": as_json})
    display = load(file)
    for kind, (name, words) in _given(fixed, note):
        check_port_then_words(f"--{kind}", name, words, [each.name for each in fingerprints(display)])
    pens = [penned(display, kind, *given, _now()) for kind, given in _given(fixed, note)]
    if pens:
        with Logbook(logbook_path(file)) as book:
            for entry in book.append(*pens):
                say(f"{plain(entry.name)}: {event(entry)}")
        return
    _print(file, display, as_what, only_open=only_open)


def _given(fixed: tuple[str, str] | None, note: tuple[str, str] | None) -> list[tuple[Kind, tuple[str, str]]]:
    return [(kind, given) for kind, given in ((Kind.FIXED, fixed), (Kind.NOTE, note)) if given]


def _print(file: Path, display: Display, as_what: str, *, only_open: bool) -> None:
    entries = read_logbook(logbook_path(file))
    stand = standings(display, entries)
    if as_what == "--html":
        from streamer.logbook.page import as_html

        say(as_html(stand, _now(), only_open=only_open))
    elif as_what == "--json":
        from streamer.logbook.table import as_dict

        say(json.dumps(as_dict(stand, str(file), only_open=only_open), indent=2))
    elif as_what == "--csv":
        from streamer.logbook.table import entries_csv, punch_list_csv

        click.echo(punch_list_csv(stand) if only_open else entries_csv(entries), nl=False)
    else:
        from streamer.logbook.text import as_text

        say(as_text(stand, shutil.get_terminal_size().columns, only_open=only_open))


def _now() -> datetime:
    return datetime.now(tz=UTC).astimezone()
