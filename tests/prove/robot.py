"""A robot that answers a walk's questions. It looks only at what the yard's lights show, and knows the plan.

It judges as a person would, by rules of its own: nothing of `streamer.prove` or `patterns` is in here.
"""

import re
from collections.abc import Callable, Mapping
from typing import Any

from streamer.display.model import Display, Fixture
from streamer.yard.yard import Yard

LETTERS = {
    (0, 0, 0, 0): ".",
    (1, 0, 0, 0): "R",
    (0, 1, 0, 0): "G",
    (0, 0, 1, 0): "B",
    (1, 1, 0, 0): "Y",
    (0, 1, 1, 0): "C",
    (1, 0, 1, 0): "M",
    (1, 1, 1, 0): "W",
    (0, 0, 0, 1): "L",
}
MIXED = "?"
BLOCKS = {3: "R..GG..BBB........", 4: "R..GG..BBB..LLLL........"}
"""The picture that the order look asks about, as its question says it; eight dark nodes end a round."""
LIGHT_ROLES = {"red", "green", "blue", "white", "amber", "uv"}


class Robot:
    """Stands before a yard."""

    def __init__(self, yard: Yard, plan: Display) -> None:
        self._yard = yard
        self._plan = plan
        self._ports = {port.name: port for port in plan.ports}
        self._fixtures = [fixture for controller in plan.controllers for fixture in controller.fixtures]

    def key(self, look: Mapping[str, Any]) -> str:
        """Return the key of the answer to a look, as the JSON lines tell it."""
        name, what, question = str(look["name"]), str(look["look"]), str(look["question"])
        said = (
            self._of_fixture(name, question) if look["about"] == "fixture" else self._of(name, what, question)
        )
        answers: Mapping[str, str] = look["answers"]
        fitting = [key for key, text in answers.items() if text.startswith(said)]
        assert fitting, f"{name}, {what}: nothing begins with {said!r} in {answers}"
        return fitting[0]

    def _seen(self, name: str) -> str:
        lit = (self._yard.shown(name) > 0).astype(int).tolist()
        return "".join(LETTERS.get(tuple(node), MIXED) for node in lit)

    def _of(self, name: str, what: str, question: str) -> str:
        if what == "which":
            return self._which(name)
        seen = self._seen(name)
        if not seen.strip("."):
            return "nothing is lit"
        kind, _, detail = what.partition(", ")
        if kind == "order" and detail:
            return _solid(seen, detail)
        port = self._ports[name]
        said: dict[str, Callable[[], str]] = {
            "how many": lambda: _how_many(seen, port.nodes),
            "order": lambda: _order(seen, BLOCKS[len(port.colour_order)]),
            "direction": lambda: _direction(seen, question),
            "address": lambda: _address(seen, question),
            "level": lambda: "yes" if set(seen) == {"L" if detail else "W"} else "some nodes are dark",
        }
        return said[kind]()

    def _which(self, name: str) -> str:
        lit = {each for each in self._ports if self._seen(each).strip(".")}
        if lit == {name}:
            return "yes"
        if not lit:
            return "nothing is lit"
        return "this one, and others too" if name in lit else "another string"

    def _of_fixture(self, name: str, question: str) -> str:
        lights = {fixture.name: light for fixture, light in self._lights()}
        lit = lights.pop(name)
        if "stay dark" in question:
            return "it is lit" if lit else "yes"
        wanted = re.search(r"lit in (\w+)", question)
        assert wanted
        if any(lights.values()):
            return "another fixture"
        if not lit:
            return "it is dark"
        return "yes" if lit == {wanted[1]} else "in another colour"

    def _lights(self) -> list[tuple[Fixture, set[str]]]:
        """Return what light each fixture gives: none while its dimmer is down."""
        levels, found = self._yard.seen().channels.tolist(), []
        hung = [fixture for controller in self._yard.display.controllers for fixture in controller.fixtures]
        for fixture in hung:
            own, levels = levels[: len(fixture.channels)], levels[len(fixture.channels) :]
            up = {role.value for role, level in zip(fixture.channels, own, strict=True) if level}
            has_dimmer = "dimmer" in {role.value for role in fixture.channels}
            found.append((fixture, up & LIGHT_ROLES if "dimmer" in up or not has_dimmer else set()))
        return found


def _how_many(seen: str, planned: int) -> str:
    lit = [place for place, node in enumerate(seen) if node != "."]
    if lit == [planned - 1] and len(seen) == planned:
        return "yes"
    if lit == [0]:
        return "the first node"
    return "another node is lit, and more" if len(seen) > lit[-1] + 1 else "something else"


def _order(seen: str, blocks: str) -> str:
    wanted = (blocks * (len(seen) // len(blocks) + 1))[: len(seen)]
    if seen == wanted:
        return "yes"
    if [node == "." for node in seen] == [node == "." for node in wanted]:
        return "the same blocks"
    return "other blocks"


def _solid(seen: str, colour: str) -> str:
    if set(seen) == {colour[0].upper()}:
        return "yes"
    return "every node in one other" if len(set(seen)) == 1 else "something else"


def _direction(seen: str, question: str) -> str:
    told = re.search(r"first (\d) nodes", question)
    head = int(told[1]) if told else 1
    lit = [node != "." for node in seen]
    wanted = [place < head for place in range(len(seen))]
    if lit == wanted:
        return "yes"
    return "they are lit at the other" if lit == wanted[::-1] else "something else"


def _address(seen: str, question: str) -> str:
    told = re.search(r"\(nodes? (\d+)(?: to (\d+))?\)", question)
    part = seen[int(told[1]) - 1 : int(told[2] or told[1])] if told else seen
    match "".join(sorted(set(part))):
        case "W" | ".W":
            return "yes"
        case ".Y" | "Y":
            return "every second node yellow"
        case "B":
            return "all blue"
        case "." | "":
            return "nothing is lit"
    return "something else"
