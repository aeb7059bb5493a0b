"""`ropewalk report`: what a night run has shown, on one page, and whether the display can be trusted."""

import shutil
import sys
import time
from pathlib import Path

import click

from streamer.cli.common import FOUND_WRONG, only_one, say, say_json
from streamer.cli.numbers import Whole
from streamer.cli.reporting import display_file, need_night, report_of, runs_of
from streamer.display.places import plain
from streamer.report.times import day_text, length_text
from streamer.report.verdict import Verdict
from streamer.soak.records import RunRecord

WIDTH_OF_A_PIPE = 80
EPILOG = """Examples:

\b
  ropewalk report display.toml                      the last night, in words
  ropewalk report display.toml --html > night.html  to print, or to send on
  ropewalk report display.toml --list               which runs there are

Exit codes: 0 passed, with remarks or without, 1 failed or the journal is wrong, 2 the command line was wrong.
"""


@click.command(epilog=EPILOG)
@click.argument("file", required=False, type=click.Path(path_type=Path))
@click.option("--run", "number", type=Whole(min=1), help="This run, not the last one.")
@click.option("--list", "as_list", is_flag=True, help="List the runs.")
@click.option("--html", "as_html", is_flag=True, help="Print as one HTML page, with pictures.")
@click.option("--markdown", "as_markdown", is_flag=True, help="Print as Markdown.")
@click.option("--json", "as_json", is_flag=True, help="Print as JSON.")
def report(  # noqa: PLR0913  one for each option
    *,
    file: Path | None,
    number: int | None,
    as_list: bool,
    as_html: bool,
    as_markdown: bool,
    as_json: bool,
) -> None:
    """Say what a night run has shown, on one page.

    The verdict, what happened when, and what it proves.

    FILE is the display file, beside which its journal is; without it the only journal in this folder.
    """
    forms = {"--list": as_list, "--html": as_html, "--markdown": as_markdown, "--json": as_json}
    as_what = only_one(forms)
    display = display_file(file)
    need_night(display)
    if as_what == "--list":
        for run in runs_of(display):
            say(_run_line(run))
        return
    made = report_of(display, number, time.time())
    if as_what == "--html":
        from streamer.report.page import as_html as page

        say(page(made))
    elif as_what == "--markdown":
        from streamer.report.markdown import as_markdown as markdown

        click.echo(markdown(made), nl=False)
    elif as_what == "--json":
        from streamer.report.table import as_dict

        say_json(as_dict(made, file=str(display)))
    else:
        from streamer.report.text import as_text

        say(as_text(made, shutil.get_terminal_size((WIDTH_OF_A_PIPE, 0)).columns))
    if made.judgement.verdict is Verdict.FAILED:
        sys.exit(FOUND_WRONG)


def _run_line(run: RunRecord) -> str:
    offset = run.facts.utc_offset_minutes
    how = run.ended.reason.value if run.ended else "not ended"
    began = day_text(run.began_at.unix_s, offset)
    return f"{run.number}: {began}, {length_text(run.last_at.run_s)}, {plain(run.facts.programme)}, {how}"
