"""The doctor's checks as lines for a terminal of any width."""

import shutil
from collections.abc import Iterator, Sequence

from streamer.cli.ruler import Ruler
from streamer.doctor.checks import Check, first_broken
from streamer.doctor.words import MARKS, counts_text, instead_text, remarks_text, saw_text, seen_text, title

WIDTH_LEAST, WIDTH_MOST, WIDTH_OF_A_PIPE = 30, 100, 80
INDENT = 2
ARROW = "-> "


def check_lines(check: Check, width: int | None = None) -> Iterator[str]:
    """Yield the lines of a check; without a width, for the terminal."""
    ruler = _ruler(width)
    yield from ruler.plain(f"{MARKS[check.state]}: {title(check)}")
    yield from ruler.plain(seen_text(check), INDENT, hang=0)
    yield from _instead(check, ruler)


def end_lines(checks: Sequence[Check], trouble: str, width: int | None = None) -> Iterator[str]:
    """Yield the last lines: how it stands, and the first broken link once more, with what to do."""
    ruler, broken = _ruler(width), first_broken(checks)
    yield ""
    if trouble:
        yield from ruler.plain(trouble, hang=0)
    yield from ruler.plain(counts_text(checks), hang=0)
    if text := remarks_text(checks):
        yield from ruler.plain(text, hang=0)
    if broken:
        yield from ruler.plain(f"The first broken link: {title(broken)}.", hang=0)
        yield from ruler.plain(saw_text(broken), INDENT, hang=0)
        yield from _instead(broken, ruler)


def _instead(check: Check, ruler: Ruler) -> Iterator[str]:
    if text := instead_text(check):
        yield from ruler.plain(f"{ARROW}{text}", INDENT, hang=len(ARROW))


def _ruler(width: int | None) -> Ruler:
    columns = width or shutil.get_terminal_size((WIDTH_OF_A_PIPE, 0)).columns
    return Ruler(min(max(columns, WIDTH_LEAST), WIDTH_MOST), 0)
