"""The logbook as plain text for a terminal of any width: headings, one string a block, nothing but spaces."""

from collections.abc import Iterator
from textwrap import wrap

from streamer.logbook.records import Sort
from streamer.logbook.standing import Standing, Standings, State
from streamer.logbook.wording import NEXT, events, name, summary, why

NARROWEST = 20
INDENT, FURTHER = "  ", "    "
NOTHING_OPEN = "Nothing is open."
GONE = "No longer in the display file"


def as_text(standings: Standings, width: int, *, only_open: bool) -> str:
    """Return the standing of everything, or the punch list, in lines of up to `width` characters."""
    width = max(width, NARROWEST)
    return "\n".join([*_fold(summary(standings), width), *_groups(standings, width, only_open=only_open)])


def _groups(standings: Standings, width: int, *, only_open: bool) -> Iterator[str]:
    if only_open and not standings.punch_list:
        yield NOTHING_OPEN
    for state in State:
        those = [each for each in standings.all if each.state is state]
        if those and not (only_open and state is State.PROVEN):
            yield from _group(state.capitalize(), those, width)
            if state in NEXT:
                yield from _fold(f"To do: {NEXT[state]}.", width, INDENT, INDENT)
    if standings.gone and not only_open:
        yield from _group(GONE, standings.gone, width)


def _group(heading: str, those: list[Standing] | tuple[Standing, ...], width: int) -> Iterator[str]:
    yield ""
    yield heading
    for standing in those:
        kind = "fixture " if standing.subject.sort is Sort.FIXTURE else ""
        yield from _fold(kind + name(standing), width, INDENT, FURTHER)
        for at, what in events(standing):
            yield from _fold(f"{at}  {what}", width, FURTHER, FURTHER + INDENT)
        if told := why(standing):
            yield from _fold(told, width, FURTHER, FURTHER + INDENT)


def _fold(text: str, width: int, indent: str = "", further: str = "") -> list[str]:
    return wrap(text, width, initial_indent=indent, subsequent_indent=further, break_on_hyphens=False)
