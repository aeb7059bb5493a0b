"""The report of a night in words, for any width; verdict, failures and remarks in their colours."""

from collections.abc import Iterable, Iterator

from textual.content import Content
from textual.widgets import Static

from tui.plain import shown
from tui.reporting import Reported

WIDTH_MOST = 100
STYLES = {"passed": "$success bold", "passed with remarks": "$warning bold", "failed": "$error bold"}
SIGNS = {"# ": "$error", "o ": "$warning"}
"""How the lines of events begin."""


def contents_of(lines: Iterable[str], verdict: str) -> Iterator[Content]:
    """Yield the lines, styled: the verdict first; what stands after an empty line is a heading."""
    style, is_first, before = STYLES.get(verdict, "bold"), True, "?"
    for line in lines:
        is_first = is_first and not line.startswith(" ")
        if is_first:
            yield Content.styled(shown(line), style)
        elif not before:
            yield Content.styled(shown(line), "bold $accent")
        else:
            yield Content.styled(shown(line), SIGNS.get(line[:2], ""))
        before = line


class ReportText(Static):
    """Says that it is being read until `show_report` was called; lays itself out anew at every width."""

    reported: Reported | None = None

    def show_report(self, reported: Reported) -> None:
        """Show this report."""
        self.reported = reported
        self._lay()

    def on_resize(self) -> None:
        """Lay it out for the new width."""
        self._lay()

    def _lay(self) -> None:
        if self.reported is not None and self.size.width:
            lines = self.reported.lines(min(self.size.width, WIDTH_MOST))
            self.update(Content("\n").join(contents_of(lines, self.reported.verdict)))
