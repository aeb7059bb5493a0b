"""The report in Markdown (CommonMark, with the tables that most readers know), every name escaped."""

import re
from collections.abc import Iterable, Iterator, Sequence

from streamer.report import rows, wording
from streamer.report.charts import lateness_lines, loss_lines, timeline_lines
from streamer.report.made import Report

CHART_WIDTH = 76
MEANT = re.compile(r"[\\`*_{}\[\]<>|~$&@]|:(?=//)|(?<=www)\.|^[#+\-=!]|(?<=^\d)[.)]")
"""What could be taken for markup within a line, for an address that readers make a link of, or for a list or
a heading where it begins one; every one may be escaped so (CommonMark 0.31, 2.4)."""


def as_markdown(report: Report) -> str:
    """Return the report; pictures are of characters, in blocks of code."""
    return "\n".join(_lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    night = report.night
    yield f"# {_plain(wording.verdict_line(report))}"
    yield from _list(wording.run_lines(report))
    for heading, why in wording.reasons(report):
        yield from _head(heading)
        yield from _list(why)
    yield from _head("Timeline")
    yield from _block(timeline_lines(night, CHART_WIDTH))
    yield from _head("Events")
    events = [(*row[:4], row.severity.value) for row in rows.event_rows(night)]
    yield from _table(("When", "How long", "What", "Words", "Means"), events)
    if more := wording.events_left_out(night):
        yield from ("", _plain(more))
    yield from _head("Frames")
    yield from _list((*wording.frame_lines(night), *wording.host_lines(night)))
    yield from _head("Latest frame")
    yield from _block(lateness_lines(night, CHART_WIDTH))
    yield from _head("Lost frames, unanswered questions")
    yield from _block(loss_lines(night, CHART_WIDTH))
    if supplies := rows.supply_rows(night):
        yield from _head("Supplies")
        yield from _table(("Supply", "Called for at most", "Carries for hours", "Of it"), supplies)
    yield from _head("Controllers")
    heads = ("Controller", "Answered", "Away", "Restarts", "Longest round trip")
    yield from _table(heads, rows.controller_rows(night))
    if findings := list(wording.finding_lines(report)):
        yield from _head("From the logbook")
        yield from _list(findings)
    yield from _head("What this proves")
    yield from _list(wording.proof_lines(report))
    yield from _head("What it does not")
    yield from _list(wording.limit_lines(report))


def _head(text: str) -> tuple[str, ...]:
    return "", f"## {text}", ""


def _list(sentences: Iterable[str]) -> Iterator[str]:
    yield ""
    for each in sentences:
        yield f"- {_plain(each)}."


def _block(lines: Iterable[str]) -> Iterator[str]:
    # Indented, not fenced: no name can end it.
    yield from (f"    {line}".rstrip() for line in lines)


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    yield _row(heads)
    yield _row(["---"] * len(heads))
    yield from (_row([_plain(each) for each in row]) for row in rows)


def _row(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _plain(text: str) -> str:
    return MEANT.sub(r"\\\g<0>", text)
