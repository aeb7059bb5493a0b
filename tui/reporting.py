"""Reads the report of a night for the sheet that shows it.

It takes from milliseconds to seconds, and loads much: call it off the event loop.
"""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from streamer.report.made import Report


@dataclass(frozen=True, slots=True)
class Reported:
    """One run's report, and which runs there are beside it."""

    report: "Report"
    older: int | None
    """The run before it; None where it is the first."""
    newer: int | None

    @property
    def verdict(self) -> str:
        """The verdict's own words."""
        return self.report.judgement.verdict.value

    def lines(self, width: int) -> Iterator[str]:
        """Yield the report for so many cells: the verdict, an empty line before each heading."""
        from streamer.report.text import lines

        return lines(self.report, width)


def reported(file: Path, number: int | None) -> Reported:
    """Return the report of a run of a display file, the last one without a number.

    JournalError, in words, where there is none.
    """
    from streamer.cli.reporting import report_of, runs_of

    report = report_of(file, number, time.time())
    numbers = [each.number for each in runs_of(file)]
    own = report.night.run.number
    older = [each for each in numbers if each < own]
    newer = [each for each in numbers if each > own]
    return Reported(report, older[-1] if older else None, newer[0] if newer else None)
