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
    return "\n".join([*wrap(summary(standings), width), *_groups(standings, width, only_open=only_open)])


def _groups(standings: Standings, width: int, *, only_open: bool) -> Iterator[str]:
    if only_open and not standings.punch_list:
        yield NOTHING_OPEN
    for state in State:
        those = [each for each in standings.all if each.state is state]
        if those and not (only_open and state is State.PROVEN):
            yield from _group(state.capitalize(), those, width)
            if state in NEXT:
                yield from wrap(
                    f"To do: {NEXT[state]}.", width, initial_indent=INDENT, subsequent_indent=INDENT
                )
    if standings.gone and not only_open:
        yield from _group(GONE, standings.gone, width)


def _group(heading: str, those: list[Standing] | tuple[Standing, ...], width: int) -> Iterator[str]:
    yield ""
    yield heading
    for standing in those:
        kind = "fixture " if standing.subject.sort is Sort.FIXTURE else ""
        yield from wrap(kind + name(standing), width, initial_indent=INDENT, subsequent_indent=FURTHER)
        for at, what in events(standing):
            yield from wrap(
                f"{at}  {what}", width, initial_indent=FURTHER, subsequent_indent=FURTHER + INDENT
            )
        if told := why(standing):
            yield from wrap(told, width, initial_indent=FURTHER, subsequent_indent=FURTHER + INDENT)
