"""The plain types that patterns speak: what a display is to them, and what they give back.

Nothing here knows files, universes on the wire, sockets or clocks.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int32]
Value = int | float | bool | str
Params = Mapping[str, Value]

COMPONENTS = 4
"""Every node has four: red, green, blue, white. RGB nodes ignore the fourth."""


class PatternError(ValueError):
    """A pattern or its parameters cannot be had as asked: one sentence for each problem, at once."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class Frame(NamedTuple):
    """What every light shows at one moment, at full level, before the level and the limits are applied."""

    nodes: Bytes
    """(N, 4): red, green, blue, white of each node, in layout order."""
    channels: Bytes
    """(C,): each fixture channel, in layout order."""


class Lit(NamedTuple):
    """A picture in short: all nodes alike but for a few. No fixture channel is lit."""

    rest: Bytes
    """(4,): what all other nodes show."""
    nodes: NDArray[np.intp]
    """(K,): the indices of the few, each once."""
    values: Bytes
    """(K, 4): what these show; or (1, 4) if all of them show the same."""


class Line(NamedTuple):
    """Nodes in order along a line."""

    nodes: NDArray[np.intp]
    """(N,): their indices."""
    places: NDArray[np.float32]
    """(N,): where each of them is, rising."""


class Moment(NamedTuple):
    """When: the step that the engine has reached, by itself or by hand, and the seconds played."""

    step: int
    """Counts from 0; any integer: patterns wrap it themselves, so stepping back works."""
    seconds: float


@dataclass(frozen=True, slots=True)
class Layout:
    """A display as a pattern sees it: N nodes on P strings, and C channels of fixtures.

    The nodes of one string are neighbours in every (N,) array, in the order in which they hang.
    """

    string_names: tuple[str, ...]
    string_starts: Ints
    """(P,): index of each string's first node."""
    string_lengths: Ints
    """(P,): nodes of each string."""
    string_of_node: Ints
    """(N,): rising."""
    place: Ints
    """(N,): place of a node on its string, from 0."""
    universe_of_node: Ints
    """(N,): number of the universe (or Port-Address) that holds the node's first slot."""
    has_white: NDArray[np.bool_]
    """(N,): whether the node has a fourth, white light."""
    positions: NDArray[np.float32]
    """(N, 3): metres; x to the right, y up, z towards the viewer."""
    is_neighbour: NDArray[np.bool_]
    """(P,): strings that stand for a universe that the plan does not use (see `Pattern.neighbours`)."""
    universe_texts: Mapping[int, str] = field(default_factory=dict)
    """How a person is told of a universe, by its number: "Port-Address 19 (0:1:3)"."""
    fixture_names: tuple[str, ...] = ()
    channel_roles: tuple[str, ...] = ()
    """(C,): what each fixture channel does: dimmer, red, strobe, ..."""
    fixture_of_channel: Ints = field(default_factory=lambda: np.zeros(0, np.int32))
    """(C,)"""
    longest: int = field(init=False)
    """Nodes of the longest string; 0 where there is no string."""
    _lines: dict[int, Line] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Find out what patterns ask for in every frame."""
        object.__setattr__(self, "longest", int(self.string_lengths.max(initial=0)))

    def line(self, axis: int) -> Line:
        """Return all nodes in order along x, y or z (0, 1 or 2), in metres. It is made once."""
        if axis not in self._lines:
            along = self.positions[:, axis]
            nodes = along.argsort(kind="stable")
            self._lines[axis] = Line(nodes, along[nodes])
        return self._lines[axis]

    def dark(self) -> Frame:
        """Return a frame in which nothing is lit."""
        return self.show(np.zeros((len(self.place), COMPONENTS), np.uint8))

    def draw(self, lit: Lit) -> Frame:
        """Return a picture in full."""
        # One 32-bit word a node is many times faster than four octets a node.
        words = np.full(len(self.place), lit.rest.view(np.uint32)[0])
        words[lit.nodes] = lit.values.view(np.uint32)[:, 0]
        return self.show(words.view(np.uint8).reshape(-1, COMPONENTS))

    def show(self, nodes: Bytes) -> Frame:
        """Return a frame of these nodes, (N, 4), with every fixture channel at zero."""
        return Frame(nodes, np.zeros(len(self.channel_roles), np.uint8))


@dataclass(frozen=True, slots=True)
class Param:
    """One setting of a pattern: its kind follows from its default (int, float, bool or str)."""

    name: str
    default: Value
    sentence: str
    low: float | None = None
    high: float | None = None
    unit: str = ""
    choices: tuple[str, ...] = ()
    form: str = ""
    """A regular expression that text without choices has to match as a whole; empty for any."""


@dataclass(frozen=True, slots=True)
class Pattern:
    """A named picture: a pure function of the layout and the moment, the same bytes for ever."""

    name: str
    sentence: str
    """What it does, for a list."""
    shows: str
    """What the person sees, and which fault that reveals."""
    render: Callable[[Layout, Moment, Params], Frame]
    """Gets every parameter, checked and of the right type. One step looks alike at all its moments."""
    steps: Callable[[Layout, Params], int]
    """How many steps until it repeats; 1 for a still picture."""
    describe: Callable[[Layout, Moment, Params], str]
    """One short line for the screen: what is lit right now ("node 37 of 120")."""
    pace: float = 0.0
    """Steps a second when it runs by itself and nothing else is asked; 0 is by hand."""
    pace_limit: float = 44.0
    """The fastest pace that may be asked for, steps a second."""
    lit: Callable[[Layout, Moment, Params], Lit] | None = None
    """The same in short, where most nodes look alike: it is known then which nodes change."""
    params: tuple[Param, ...] = ()
    neighbours: bool = False
    """Also light the universes next to each planned one, planned or not."""
    bursts: bool = False
    """Each picture goes out once and all at one moment: neither repeated nor spread, so that losses show."""


def drawn(lit: Callable[[Layout, Moment, Params], Lit]) -> Callable[[Layout, Moment, Params], Frame]:
    """Return the `render` of a pattern that is known in short."""

    def render(layout: Layout, moment: Moment, params: Params) -> Frame:
        return layout.draw(lit(layout, moment, params))

    return render
