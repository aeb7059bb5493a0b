"""The looks that prove a string: which, how many, which order, which direction, which address, and the level.

No question asks anybody to count more than seven things.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from patterns.colours import WHITE_LIGHT
from patterns.order import PRIMARIES, RGB, RGBW
from patterns.plain import Layout
from streamer.logbook.records import Sort, Subject
from streamer.prove.checks import Answer, Check, Look, answers

BLOCKS_FIT = {RGB: 10, RGBW: 16}
"""Nodes that one red, two green, three blue (and four white) take, with two dark ones between the blocks."""
BLOCKS_IN_WORDS = {
    RGB: "one red, two green, three blue",
    RGBW: "one red, two green, three blue, four white",
}
HEAD_NODES = 3
"""Lit at the head of a string, to tell one end from the other."""

NOTHING = "nothing is lit"
ELSE = "something else"


@dataclass(frozen=True, slots=True)
class Stand:
    """Where a string stands in the layout."""

    layout: Layout
    string: int
    label: str

    @property
    def port(self) -> str:
        """Its port's name."""
        return self.layout.string_names[self.string]

    @property
    def nodes(self) -> int:
        """How many it is planned to have."""
        return int(self.layout.string_lengths[self.string])

    @property
    def lights(self) -> int:
        """How many lights a node has: 3, or 4 with white."""
        return RGBW if self.layout.has_white[self.layout.string_starts[self.string]] else RGB

    @property
    def universes(self) -> list[int]:
        """The universes of its nodes, in the order in which the nodes hang."""
        start = int(self.layout.string_starts[self.string])
        return list(dict.fromkeys(self.layout.universe_of_node[start : start + self.nodes].tolist()))


def string_checks(stand: Stand) -> tuple[Check, ...]:
    """Return the looks of one string, in the order of the walk."""
    return (
        _which(stand),
        _how_many(stand),
        *(_order(stand) if stand.nodes >= BLOCKS_FIT[stand.lights] else _solid_orders(stand)),
        _direction(stand),
        *_addresses(stand),
        *_levels(stand),
    )


def _which(stand: Stand) -> Check:
    look = Look("tint", {"alone": True}, stand.string, None)
    # A string that lights along is another's fault, which that one's own looks find.
    told = answers(
        "yes, only this one", "another string, not this one", NOTHING, remark="this one, and others too"
    )
    question = "Is this string lit, and only this one? Its colour does not matter yet."
    return _check(stand, "which", look, question, told)


def _how_many(stand: Stand) -> Check:
    look = Look("count", {}, 1, (stand.port,))
    told = answers(
        "yes, the very last, and only it",
        "another node is lit, and more come after it",
        NOTHING,
        "the first node, at the other end",
        ELSE,
    )
    question = f"Node {stand.nodes} alone is lit. Is it the string's very last?"
    return _check(stand, "how many", look, question, told)


def _order(stand: Stand) -> Iterator[Check]:
    words = BLOCKS_IN_WORDS[stand.lights]
    told = answers(
        "yes",
        "the same blocks in other colours",
        "other blocks, or other gaps",
        NOTHING,
        "it starts at the far end",
    )
    question = f"From its first node: {words}, with two dark nodes between them, over and over?"
    yield _check(stand, "order", Look("order", {}, 0, (stand.port,)), question, told)


def _solid_orders(stand: Stand) -> Iterator[Check]:
    """Yield one look a colour, for strings on which the blocks have no room; the last colour follows."""
    for step, primary in enumerate(PRIMARIES[: stand.lights - 1], start=1):
        told = answers("yes", "every node in one other colour", ELSE, NOTHING)
        look = Look("order", {}, step, (stand.port,))
        yield _check(stand, f"order, {primary.name}", look, f"Is every node {primary.name}?", told)


def _direction(stand: Stand) -> Check:
    head = max(1, min(HEAD_NODES, stand.nodes // 2))
    nodes = "first node" if head == 1 else f"first {head} nodes"
    look = Look("walk", {"window": head}, head - 1, (stand.port,))
    told = answers("yes", "they are lit at the other end", ELSE, NOTHING)
    question = f"Is the {nodes} lit, and no other?" if head == 1 else f"Are the {nodes} lit, and no others?"
    return _check(stand, "direction", look, question, told)


def _addresses(stand: Stand) -> Iterator[Check]:
    planned = np.unique(stand.layout.universe_of_node).tolist()
    universes = stand.universes
    for universe in dict.fromkeys([universes[0], universes[-1]]):
        name = stand.layout.universe_texts[universe]
        where = "it" if len(universes) == 1 else f"the part on {name} ({_nodes_on(stand, universe)})"
        told = answers(
            "yes, white and nothing else",
            "every second node yellow: one too low",
            "all blue: one too high",
            ELSE,
            NOTHING,
        )
        look = Look("probe", {}, planned.index(universe), None)
        yield _check(
            stand, f"address, {name}", look, f"Is {where} lit in white, with no yellow or blue?", told
        )


def _nodes_on(stand: Stand, universe: int) -> str:
    start = int(stand.layout.string_starts[stand.string])
    on_it = np.flatnonzero(stand.layout.universe_of_node[start : start + stand.nodes] == universe) + 1
    return f"nodes {on_it[0]} to {on_it[-1]}" if len(on_it) > 1 else f"node {on_it[0]}"


def _levels(stand: Stand) -> Iterator[Check]:
    told = answers(
        "yes, evenly to its end",
        "some nodes are dark, or of another colour",
        "it grows dimmer or redder towards its end",
        "it flickers",
        NOTHING,
    )
    look = Look("level", {}, 0, (stand.port,))
    yield _check(stand, "level", look, "Is every node lit in the same white?", told)
    if stand.lights == RGBW:
        look = Look("level", {"colour": WHITE_LIGHT.name}, 0, (stand.port,))
        yield _check(stand, "level, white light", look, "Is every node lit by its white light?", told)


def _check(stand: Stand, name: str, look: Look, question: str, told: tuple[Answer, ...]) -> Check:
    subject = Subject(Sort.STRING, stand.port)
    return Check(subject, stand.label, name, look, question, told)
