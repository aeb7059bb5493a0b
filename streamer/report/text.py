"""The report as plain text for a terminal of any width: the verdict first, pictures in characters."""

from collections.abc import Iterable, Iterator
from textwrap import wrap

from streamer.report.charts import lateness_lines, loss_lines, timeline_lines
from streamer.report.made import Report
from streamer.report.rows import SupplyRow, controller_rows, event_rows, supply_rows
from streamer.report.wording import (
    events_left_out,
    finding_lines,
    frame_lines,
    host_lines,
    limit_lines,
    proof_lines,
    reasons,
    run_lines,
    verdict_line,
)
from streamer.soak.records import Severity

NARROWEST, WIDEST = 30, 100
INDENT, FURTHER = "  ", "    "
SIGNS = {Severity.NOTICE: " ", Severity.REMARK: "o", Severity.FAILURE: "#"}


def as_text(report: Report, width: int) -> str:
    """Return the report in lines of up to `width` characters."""
    return "\n".join(lines(report, min(max(width, NARROWEST), WIDEST)))


def lines(report: Report, width: int) -> Iterator[str]:
    """Yield its lines; headings are those that nothing indents, after an empty line."""
    night = report.night
    yield from _fold(verdict_line(report), width)
    yield from _told(run_lines(report), width)
    for heading, why in reasons(report):
        yield from ("", heading)
        yield from _told(why, width)
    yield from ("", "Timeline", *timeline_lines(night, width))
    yield from ("", "Events", *_events(report, width))
    yield from ("", "Frames")
    yield from _told((*frame_lines(night), *host_lines(night)), width)
    yield from ("", "Latest frame", *lateness_lines(night, width))
    yield from ("", "Lost frames, unanswered questions", *loss_lines(night, width))
    if supplies := supply_rows(night):
        yield from ("", "Supplies")
        yield from _told(map(_supply_line, supplies), width)
    yield from ("", "Controllers")
    for row in controller_rows(night):
        told = f"{row.name}: answered {row.answered}, away {row.away}, restarts {row.restarts}"
        yield from _told([f"{told}, round trip up to {row.round_trip}" if row.round_trip else told], width)
    if findings := list(finding_lines(report)):
        yield from ("", "From the logbook")
        yield from _told(findings, width)
    yield from ("", "What this proves")
    yield from _told(proof_lines(report), width)
    yield from ("", "What it does not")
    yield from _told(limit_lines(report), width)


def _supply_line(row: SupplyRow) -> str:
    of_it = f", {row.share} of it" if row.share else ""
    return f"{row.name}: at most {row.most}, for hours {row.limit}{of_it}"


def _events(report: Report, width: int) -> Iterator[str]:
    for row in event_rows(report.night):
        parts = [row.what, f"{row.length}" if row.length else "", row.words]
        text = f"{SIGNS[row.severity]} {row.at}  {', '.join(filter(None, parts))}"
        yield from _fold(text, width, "", FURTHER)
    if more := events_left_out(report.night):
        yield from _fold(more, width)


def _told(sentences: Iterable[str], width: int) -> Iterator[str]:
    for each in sentences:
        yield from _fold(f"{each}.", width, INDENT, FURTHER)


def _fold(text: str, width: int, indent: str = "", further: str = "") -> list[str]:
    return wrap(text, width, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False)
