"""The pictures of the report, drawn by matplotlib as SVG: the timeline, lateness, and what was lost."""

import io
import math
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from streamer.report.night import Night, Tally
from streamer.report.timeline import Mark, lanes
from streamer.report.times import wall

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_IN = 7.4
LANE_IN = 0.2
CHART_IN = 1.25
LEFT_IN, RIGHT_IN, ABOVE_IN, BELOW_IN = 1.2, 0.25, 0.22, 0.25
"""Around what is drawn: one clock stands below all three, at the same places."""
COLUMNS = 240
NAME_MOST = 18
TICKS_MOST = 9
TICK_STEPS_S = (10, 60, 300, 600, 1_800, 3_600, 7_200, 14_400, 43_200, 86_400, 604_800)
COLOURS = {Mark.UNWATCHED: "#e4e4e4", Mark.WELL: "#7fb59a", Mark.REMARK: "#e0a100", Mark.FAILURE: "#a3161f"}
HATCHES = {Mark.UNWATCHED: "////", Mark.FAILURE: "xxxx"}
"""So that a page printed in grey still tells them apart."""
WORDS = {
    Mark.WELL: "well",
    Mark.REMARK: "remark",
    Mark.FAILURE: "failure",
    Mark.UNWATCHED: "not watched",
}
SETTINGS: dict[Any, Any] = {
    # Text stays text: it can be searched, and the page is a tenth of the size.
    "svg.fonttype": "none",
    # The same night gives the same octets.
    "svg.hashsalt": "ropewalk",
    # A dollar sign in a name is a dollar sign.
    "text.parse_math": False,
    "font.family": "sans-serif",
    "font.size": 8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.4,
}
LEAST_MS = 0.01
PERCENT = 100


def timeline_svg(night: Night) -> str:
    """Return the lanes of the night."""
    drawn = lanes(night, COLUMNS)
    column_s = max(night.length_s, night.bin_s) / COLUMNS

    def draw(axes: "Axes") -> None:
        for place, lane in enumerate(drawn):
            start = 0
            for mark, same in groupby(lane.marks):
                count = len(list(same))
                axes.broken_barh(
                    [(start * column_s, count * column_s)],
                    (place - 0.4, 0.8),
                    facecolor=COLOURS[mark],
                    edgecolor="#666666" if mark in HATCHES else COLOURS[mark],
                    linewidth=0,
                    hatch=HATCHES.get(mark),
                )
                start += count
        axes.set_yticks(range(len(drawn)), [_cut(lane.name) for lane in drawn])
        axes.set_ylim(len(drawn) - 0.4, -0.6)
        _legend(axes)

    return _svg(night, LANE_IN * len(drawn), draw)


def lateness_svg(night: Night) -> str:
    """Return how late frames were along the night, on a scale of decades."""
    lines: tuple[tuple[str, str, Callable[[Tally], float]], ...] = (
        ("latest", "#a3161f", lambda t: t.lateness_max_ms),
        ("99 %", "#e0a100", lambda t: t.lateness_p99_ms),
        ("median", "#2f6f9f", lambda t: t.lateness_p50_ms),
    )

    def draw(axes: "Axes") -> None:
        for label, colour, value in lines:
            told = [max(LEAST_MS, value(each)) if each.watched_s else math.nan for each in night.bins]
            axes.plot(_times(night), told, label=label, color=colour, linewidth=1, marker=".", markersize=2)
        axes.set_yscale("log")
        axes.yaxis.set_major_formatter(lambda value, _place: f"{value:g}")
        axes.set_ylabel("late, ms")
        axes.grid(axis="y", color="#dddddd", linewidth=0.5)
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3, frameon=False)

    return _svg(night, CHART_IN, draw)


def loss_svg(night: Night) -> str:
    """Return which part of the frames was lost here, and of the questions to controllers unanswered."""

    def draw(axes: "Axes") -> None:
        lost = [_percent(each.lost, each.due) for each in night.bins]
        answers = [list(each.answers.values()) for each in night.bins]
        asked = [sum(a.asked for a in each) for each in answers]
        silent = [
            _percent(all_ - sum(a.answered for a in each), all_)
            for each, all_ in zip(answers, asked, strict=True)
        ]
        for values, label, colour, style in (
            (lost, "frames lost here", "#a3161f", "-"),
            (silent, "questions unanswered", "#2f6f9f", "--"),
        ):
            axes.step(
                _times(night), values, label=label, color=colour, linewidth=1, linestyle=style, where="mid"
            )
        known = [value for value in (*lost, *silent) if not math.isnan(value)]
        highest = max(1.0, 1.1 * max(known, default=0.0))
        # A little below nothing, so that a line of nothing is seen.
        axes.set_ylim(-highest / 30, highest)
        axes.set_ylabel("lost, %")
        axes.grid(axis="y", color="#dddddd", linewidth=0.5)
        axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=2, frameon=False)

    return _svg(night, CHART_IN, draw)


def _svg(night: Night, height_in: float, draw: Callable[["Axes"], None]) -> str:
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(SETTINGS):
        whole_in = ABOVE_IN + height_in + BELOW_IN
        figure = Figure(figsize=(WIDTH_IN, whole_in))
        width = 1 - (LEFT_IN + RIGHT_IN) / WIDTH_IN
        axes = figure.add_axes((LEFT_IN / WIDTH_IN, BELOW_IN / whole_in, width, height_in / whole_in))
        draw(axes)
        _clock_axis(axes, night)
        told = io.StringIO()
        figure.savefig(told, format="svg", metadata={"Date": None})
    return told.getvalue()


def _clock_axis(axes: "Axes", night: Night) -> None:
    length_s = max(night.length_s, night.bin_s)
    began_s, offset = night.run.began_at.unix_s, night.run.facts.utc_offset_minutes
    step_s = next((step for step in TICK_STEPS_S if length_s / step <= TICKS_MOST), length_s / TICKS_MOST)
    local_s = began_s + offset * 60
    first_s = math.ceil(local_s / step_s) * step_s - local_s
    ticks = [first_s + step_s * turn for turn in range(int((length_s - first_s) // step_s) + 1)]
    form = "%H:%M:%S" if step_s < TICK_STEPS_S[1] else "%H:%M" if step_s < TICK_STEPS_S[-2] else "%d %b"
    labels = [f"{at:{form}}" if (at := wall(began_s + tick, offset)) else "" for tick in ticks]
    axes.set_xlim(0, length_s)
    axes.set_xticks(ticks, labels)


def _legend(axes: "Axes") -> None:
    from matplotlib.patches import Patch

    patches = [
        Patch(
            facecolor=COLOURS[mark], edgecolor="#666666", linewidth=0.3, hatch=HATCHES.get(mark), label=words
        )
        for mark, words in WORDS.items()
    ]
    axes.legend(handles=patches, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4, frameon=False)


def _times(night: Night) -> Sequence[float]:
    return [(place + 0.5) * night.bin_s for place in range(len(night.bins))]


def _percent(part: int, whole: int) -> float:
    return PERCENT * part / whole if whole else math.nan


def _cut(name: str) -> str:
    return name if len(name) <= NAME_MOST else f"{name[: NAME_MOST - 1]}…"
