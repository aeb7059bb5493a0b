"""The doctor's checks as lines for a terminal of any width."""

import shutil
from collections.abc import Iterator, Sequence

from streamer.cli.common import counted
from streamer.cli.ruler import Ruler
from streamer.doctor.checks import Check, Link, State, first_broken

WIDTH_LEAST, WIDTH_MOST, WIDTH_OF_A_PIPE = 30, 100, 80
INDENT = 2
ARROW = "-> "
MARKS = {
    State.WELL: "well",
    State.REMARK: "REMARK",
    State.BROKEN: "BROKEN",
    State.NOT_LOOKED_AT: "not looked at",
}
TITLES = {
    Link.FILE: "display file",
    Link.INTERFACE: "interface",
    Link.WAY: "way to",
    Link.GROUPS_WAY: "way for",
    Link.PORT: "port",
    Link.GROUPS: "groups",
    Link.OWN_MULTICAST: "our own multicast",
    Link.ANSWER: "answer of",
    Link.OTHERS: "other sources:",
    Link.RUNS: "other runs:",
    Link.AIR: "wireless?",
}


def title(check: Check) -> str:
    """Return what a check is about: "way to jetty (192.168.7.50)"."""
    return f"{TITLES[check.link]} {check.subject}"


def check_lines(check: Check, width: int | None = None) -> Iterator[str]:
    """Yield the lines of a check; without a width, for the terminal."""
    ruler = _ruler(width)
    yield from ruler.plain(f"{MARKS[check.state]}: {title(check)}")
    if check.state is State.NOT_LOOKED_AT:
        # There is only the reason, and many may have the same one.
        why = ". ".join(filter(None, (check.saw, check.instead)))
        yield from ruler.plain(f"{why[:1].upper()}{why[1:]}.", INDENT, hang=0)
        return
    yield from ruler.plain(f"Looked at {check.looked_at}: {check.saw}.", INDENT, hang=0)
    if check.instead:
        yield from ruler.plain(f"{ARROW}{check.instead}.", INDENT, hang=len(ARROW))


def end_lines(checks: Sequence[Check], trouble: str, width: int | None = None) -> Iterator[str]:
    """Yield the last lines: how it stands, and the first broken link once more, with what to do."""
    ruler, broken = _ruler(width), first_broken(checks)
    yield ""
    if trouble:
        yield from ruler.plain(trouble, hang=0)
    yield from ruler.plain(f"{_count(checks)}.", hang=0)
    if broken:
        yield from ruler.plain(f"The first broken link: {title(broken)}.", hang=0)
        yield from ruler.plain(f"{broken.saw[:1].upper()}{broken.saw[1:]}.", INDENT, hang=0)
        if broken.instead:
            yield from ruler.plain(f"{ARROW}{broken.instead}.", INDENT, hang=len(ARROW))


def _count(checks: Sequence[Check]) -> str:
    counts = {state: sum(each.state is state for each in checks) for state in State}
    told = [
        f"{counts[State.BROKEN] or 'nothing'} broken",
        counted(counts[State.REMARK], "remark") if counts[State.REMARK] else "",
        f"{counts[State.WELL]} well",
        f"{counts[State.NOT_LOOKED_AT]} not looked at" if counts[State.NOT_LOOKED_AT] else "",
    ]
    text = ", ".join(filter(None, told))
    return f"{text[:1].upper()}{text[1:]}"


def _ruler(width: int | None) -> Ruler:
    columns = width or shutil.get_terminal_size((WIDTH_OF_A_PIPE, 0)).columns
    return Ruler(min(max(columns, WIDTH_LEAST), WIDTH_MOST), 0)
