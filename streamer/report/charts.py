"""Lanes and bars in plain characters, for a terminal of any width."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from textwrap import wrap

from streamer.report.night import Night, Tally
from streamer.report.timeline import Lane, Mark, lanes, left_out
from streamer.report.times import clock_text

MARKS = {Mark.UNWATCHED: "?", Mark.WELL: "-", Mark.REMARK: "o", Mark.FAILURE: "#"}
LEGEND = "- well, o remark, # failure, ? not watched"
NAME_WIDTH_MOST = 14
COLUMNS_LEAST, COLUMNS_MOST = 10, 120
BAR = "|"
CLOCK_WIDTH = len("22:00:00")
STEPS_MS = (0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 1_000.0, 3_000.0)
"""Of the lateness chart: a bar reaches as high as the last that lateness passed."""


def timeline_lines(night: Night, width: int) -> Iterator[str]:
    """Yield the night as lanes, the clock below, and what the marks mean."""
    names = [each.name for each in lanes(night, 1)]
    left = min(max(map(len, names)), NAME_WIDTH_MOST)
    columns = _columns(width, left)
    for lane in lanes(night, columns):
        yield f"{_cut(lane.name, left)} {_drawn(lane)}"
    yield f"{'':{left}} {_clock(night, columns)}"
    if more := left_out(night):
        yield from wrap(more, width)
    yield from wrap(LEGEND, width)


def lateness_lines(night: Night, width: int) -> Iterator[str]:
    """Yield the latest frame of each time, each step three times the one below."""
    left = len("1000 ms")
    columns = _columns(width, left)
    values = [max(t.lateness_max_ms for t in those) for those in _shares(night, columns)]
    for step in reversed([each for each in STEPS_MS if each <= max(values)] or STEPS_MS[:1]):
        bars = "".join(BAR if value >= step else " " for value in values)
        yield f"{f'{step:g} ms':>{left}} {bars}".rstrip()
    yield f"{'':{left}} {_clock(night, columns)}"


def loss_lines(night: Night, width: int) -> Iterator[str]:
    """Yield which part of the frames was lost here, and of the questions unanswered, at each time."""
    left = len("unanswered")
    columns = _columns(width, left)
    shares = _shares(night, columns)
    lost = [_share(sum(t.lost for t in those), sum(t.due for t in those)) for those in shares]
    asked = [[a for t in those for a in t.answers.values()] for those in shares]
    silent = [_share(sum(a.asked - a.answered for a in each), sum(a.asked for a in each)) for each in asked]
    for name, values in (("lost", lost), ("unanswered", silent)):
        yield f"{name:{left}} {''.join(map(_digit, values))}"
    yield f"{'':{left}} {_clock(night, columns)}"
    yield from wrap("- none, 1 up to 10 %, 9 up to 90 %, # more, ? not known", width)


def _columns(width: int, left: int) -> int:
    return min(max(width - left - 1, COLUMNS_LEAST), COLUMNS_MOST)


def _shares(night: Night, columns: int) -> list[Sequence[Tally]]:
    count = len(night.bins)
    firsts = [column * count // columns for column in range(columns + 1)]
    return [night.bins[a : max(a + 1, b)] for a, b in pairwise(firsts)]


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None


def _digit(share: float | None) -> str:
    if share is None:
        return "?"
    return "-" if not share else "#" if share > 0.9 else str(math.ceil(share * 10))  # noqa: PLR2004  the legend's


def _drawn(lane: Lane) -> str:
    return "".join(MARKS[mark] for mark in lane.marks)


def _cut(text: str, width: int) -> str:
    return f"{text:{width}}" if len(text) <= width else f"{text[: width - 1]}~"


def _clock(night: Night, columns: int) -> str:
    offset = night.run.facts.utc_offset_minutes
    first, last = (clock_text(at.unix_s, offset) for at in (night.run.began_at, night.run.last_at))
    return f"{first}{last:>{columns - len(first)}}" if columns >= 2 * CLOCK_WIDTH else first
