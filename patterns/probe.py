"""Probe: the number of one universe, written on its nodes; the universes next to it in two other looks.

A port that listens to the universe above or below shows that one's look: a glance tells which way it is off.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from patterns.colours import BLUE, DARK, WHITE, YELLOW, paint
from patterns.plain import Frame, Ints, Layout, Moment, Params, Pattern
from patterns.tally import APART, gap_after, in_words, spell

# White has all three and stays white in any colour order; one or two of the three stay one or two.
_PALETTE = np.stack([DARK, WHITE.value, YELLOW.value, BLUE.value])
_DARK, _NUMBER, _BELOW, _ABOVE = range(4)
_EVERY_SECOND = 2


class _Runs(NamedTuple):
    """The nodes of one universe, a run on each string that holds some."""

    nodes: NDArray[np.intp]
    """(M,): their indices in the layout."""
    place: NDArray[np.intp]
    """(M,): the place of each in its run, from 0."""
    lengths: NDArray[np.intp]
    """(R,): nodes of each run."""


def _planned(layout: Layout) -> Ints:
    """Return the planned universes, sorted, each once."""
    universes = layout.universe_of_node
    if layout.is_neighbour.any():
        universes = universes[~layout.is_neighbour[layout.string_of_node]]
    used = np.zeros(int(universes.max(initial=-1)) + 1, np.bool_)
    used[universes] = True
    return np.flatnonzero(used).astype(np.int32)


def _runs(layout: Layout, universe: int) -> _Runs:
    nodes = np.flatnonzero(layout.universe_of_node == universe)
    first = np.flatnonzero(np.diff(layout.string_of_node[nodes], prepend=-1))
    lengths = np.diff(first, append=len(nodes))
    return _Runs(nodes, np.arange(len(nodes)) - np.repeat(first, lengths), lengths)


def _steps(layout: Layout, _params: Params) -> int:
    return max(1, len(_planned(layout)))


def _render(layout: Layout, moment: Moment, params: Params) -> Frame:
    choice = np.full(len(layout.place), _DARK, np.uint8)
    planned = _planned(layout)
    if len(planned):
        universe = int(planned[moment.step % len(planned)])
        below, above = _runs(layout, universe - 1), _runs(layout, universe + 1)
        choice[below.nodes[below.place % _EVERY_SECOND == 0]] = _BELOW
        choice[above.nodes] = _ABOVE
        runs = _runs(layout, universe)
        choice[runs.nodes[_is_lit(runs, str(universe), int(params["apart"]))]] = _NUMBER
    return layout.show(paint(_PALETTE, choice))


def _is_lit(runs: _Runs, digits: str, apart: int) -> NDArray[np.bool_]:
    """Return which nodes, (M,), of the runs are lit: as many last digits as fit, as often as they fit."""
    lit = np.ones(len(runs.nodes), np.bool_)
    fitting = np.repeat(_fitting(runs.lengths, digits, apart), runs.lengths)
    gap = gap_after(apart)
    room = np.repeat(runs.lengths, runs.lengths) + gap
    for kept in range(1, len(digits) + 1):
        number = np.append(spell(digits[-kept:], apart), np.zeros(gap, np.bool_))
        here = fitting == kept
        place = runs.place[here]
        whole = place < room[here] // len(number) * len(number)
        lit[here] = whole & number[place % len(number)]
    return lit


def _fitting(lengths: NDArray[np.intp], digits: str, apart: int) -> NDArray[np.intp]:
    """Return how many last digits each run, (R,), has room for; with room for none, it is lit whole."""
    widths = [len(spell(digits[-kept:], apart)) for kept in range(1, len(digits) + 1)]
    return np.searchsorted(widths, lengths, side="right")


def _describe(layout: Layout, moment: Moment, params: Params) -> str:
    planned = _planned(layout)
    if not len(planned):
        return "no universes to probe"
    digits = str(planned[moment.step % len(planned)])
    fitting = _fitting(_runs(layout, int(digits)).lengths, digits, int(params["apart"]))
    cut = int(np.count_nonzero((fitting > 0) & (fitting < len(digits))))
    whole = int(np.count_nonzero(fitting == 0))
    notes = f"; too short, last digits only: {cut}" if cut else ""
    notes += f"; too short, all lit white: {whole}" if whole else ""
    return (
        f"{layout.universe_texts.get(int(digits), f'universe {digits}')}: {in_words(digits)}, white{notes}. "
        "Set one too low shows every second node yellow, one too high all blue"
    )


PATTERN = Pattern(
    name="probe",
    sentence="One universe at a time writes its number on its nodes; the ones next to it look different.",
    shows="Count the white nodes: universe 102 is one lit, a gap, ten lit (a nought), a gap, two lit, over "
    "and over. A string of this universe in yellow on every second node listens one too low; all blue, "
    "one too high; dark, further off. Strings planned on the universes next to it rightly show yellow "
    "or blue.",
    render=_render,
    steps=_steps,
    describe=_describe,
    # Each step changes whole strings: three a second is a flash and a half.
    pace_limit=3.0,
    params=(APART,),
    neighbours=True,
)
