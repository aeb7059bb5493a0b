"""Hypotheses in words: what is the matter, and where to go."""

from collections.abc import Iterator
from typing import NamedTuple

from patterns.plain import COMPONENTS
from streamer.display.model import Display
from streamer.display.numbering import universe_text
from streamer.display.places import plain
from streamer.find.canvas import controller_of
from streamer.find.kinds import Kind
from streamer.find.rows import NO_PLACE, Row, Thinking

LIGHTS = ("red", "green", "blue", "white")
STUCK_WORDS = {1: "red", 2: "green", 4: "blue", 7: "white"}
VOUCHED = (
    (Kind.ORDER, "colour order"),
    (Kind.TURNED, "direction"),
    (Kind.UNIVERSE, "address"),
)
"""What a healthy verdict says is right, by the kind of fault that was thought of."""
HALF = 0.5
"""A node sits in the middle of its spacing."""


class Part(NamedTuple):
    """One thing that is the matter, and what kind it is."""

    kind: Kind
    words: str


class Teller:
    """Tells hypotheses about one port."""

    def __init__(self, thinking: Thinking) -> None:
        self._display = thinking.display
        self._controller, self._port = thinking.controller, thinking.port
        self._string = thinking.string
        self._thought_of = thinking.thought_of

    def sentence(self, row: Row) -> str:
        """Return what is the matter, in one sentence."""
        words = " and ".join(part.words for part in self.parts(row))
        return f"{words[0].upper()}{words[1:]}."

    def headline(self, row: Row) -> str:
        """Return the same in a word or two: what it is, and at which node."""
        kind, *others = [part.kind for part in self.parts(row)]
        nodes, node = _counted(row.hung, "node"), f"node {_place(row, row.at)}"
        told = {
            Kind.HEALTHY: "as planned",
            Kind.NOTHING: "no data",
            Kind.BREAK: f"break {_place(row, row.reach - 1)}/{_place(row, row.reach)}",
            Kind.ORDER: row.wiring.order,
            Kind.WIDTH: row.wiring.order,
            Kind.TURNED: "turned",
            Kind.SKIP: "skipped",
            Kind.FEWER: nodes,
            Kind.MORE: nodes,
            Kind.DEAD: node,
            Kind.STUCK: node,
            Kind.COLOUR: node,
            Kind.FLICKER: f"flicker {_place(row, row.unsteady_from or 0)}",
        }
        return str(Kind.PAIR) if others else told.get(kind, str(kind))

    def parts(self, row: Row) -> tuple[Part, ...]:
        """Return the things that are the matter, each with its kind."""
        found = (*self._at_a_place(row), *self._wiring(row))
        return found or (Part(Kind.HEALTHY, f"all is as planned on {self.name}: {self._as_planned()}"),)

    @property
    def name(self) -> str:
        """The port's name and label."""
        return named(self._display, self._port.name)

    def _as_planned(self) -> str:
        """Return what was looked at: nobody vouches for what was not thought of."""
        told = [words for kind, words in VOUCHED if kind in self._thought_of]
        if Kind.FEWER in self._thought_of:
            told.insert(0, _counted(self._port.nodes, "node"))
        elif Kind.BREAK in self._thought_of:
            told.append("no break")
        elif Kind.DEAD in self._thought_of:
            told.append("every node")
        return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)

    def _at_a_place(self, row: Row) -> Iterator[Part]:
        if row.reach == 0:
            yield Part(Kind.NOTHING, f"nothing reaches the string of {self.name}")
        elif row.reach < row.hung:
            yield Part(Kind.BREAK, self._break(row))
        if row.hung != self._port.nodes:
            kind = Kind.FEWER if row.hung < self._port.nodes else Kind.MORE
            yield Part(kind, f"the string has {row.hung} nodes, not {self._port.nodes}")
        if row.at != NO_PLACE:
            yield Part(row.kind, self._one_node(row))
        if row.unsteady_from is not None:
            place = _place(row, row.unsteady_from)
            where = self._where(row, place, row.unsteady_from + HALF)
            yield Part(Kind.FLICKER, f"it flickers from node {place} on{where}")

    def _break(self, row: Row) -> str:
        last, dark = _place(row, row.reach - 1), _place(row, row.reach)
        lower = min(last, dark)
        joint = lower in self._string.joints
        segment = self._string.segment_of(lower)
        where = f"the joint between segment {segment} and {segment + 1}" if joint else f"in segment {segment}"
        return f"break between node {last} and {dark}: {where}{self._metres(row, row.reach)}"

    def _one_node(self, row: Row) -> str:
        place = _place(row, row.at)
        where = self._where(row, place, row.at + HALF)
        if row.add:
            return f"node {place} always shows {STUCK_WORDS[row.add]}{where}"
        lost = [LIGHTS[light] for light in range(COMPONENTS) if not row.keep >> light & 1]
        what = "is dead" if len(lost) == COMPONENTS else f"shows no {lost[0]}"
        return f"node {place} {what}{where}"

    def _where(self, row: Row, place: int, along: float) -> str:
        return f": in segment {self._string.segment_of(place)}{self._metres(row, along)}"

    def _metres(self, row: Row, along: float) -> str:
        metres = self._string.metres(along, is_flipped=row.is_flipped)
        return "" if metres is None else f", {metres:.1f} m along the string from its controller"

    def _wiring(self, row: Row) -> Iterator[Part]:
        wiring, port = row.wiring, self._port
        if wiring.feeder:
            there = named(self._display, wiring.feeder)
            yield Part(Kind.SWAPPED, f"this string hangs on {there}, not on {self.name}")
        if wiring.universe_by:
            yield self._universe(row)
        if wiring.slot_by:
            late = "late" if wiring.slot_by > 0 else "early"
            slots = _counted(abs(wiring.slot_by), "slot")
            start = port.slot + wiring.slot_by
            at = f": at {start}, not {port.slot}" if start >= 1 else ""
            yield Part(Kind.SLOT, f"the port starts {slots} too {late}{at}")
        if wiring.order:
            kind = Kind.ORDER if len(wiring.order) == len(port.colour_order) else Kind.WIDTH
            yield Part(kind, f"the nodes take their colours as {wiring.order}, not {port.colour_order}")
        if wiring.skip_by:
            more = "more" if wiring.skip_by > 0 else "fewer"
            nodes = _counted(abs(wiring.skip_by), "node")
            lie = "lies" if abs(wiring.skip_by) == 1 else "lie"
            yield Part(Kind.SKIP, f"{nodes} {more} than planned {lie} before the string")
        if wiring.group > 1:
            yield Part(Kind.GROUPED, f"{wiring.group} lights act as one node")
        if wiring.other_addressing:
            yield Part(
                Kind.ADDRESSING,
                f"the controller does not keep nodes {self._controller.addressing}, as planned, "
                "at a universe's end",
            )
        if wiring.turned:
            yield Part(Kind.TURNED, "the string is fed from its other end")

    def _universe(self, row: Row) -> Part:
        by, protocol = row.wiring.universe_by, self._controller.protocol
        high = "high" if by > 0 else "low"
        if row.wiring.whole_controller:
            who = f"all of {plain(self._controller.name)} listens"
            return Part(Kind.BASE, f"{who} {abs(by)} too {high}: its first universe is set wrong")
        text = universe_text(protocol, self._port.universe + by)
        return Part(Kind.UNIVERSE, f"the port listens to {text}: {abs(by)} too {high}")


def named(display: Display, name: str) -> str:
    """Return a port's name, and its label if it has one."""
    label = controller_of(display, name)[1].label
    return f"{plain(name)} ({plain(label)})" if label else plain(name)


def _place(row: Row, data: int) -> int:
    """Return where people count the node that the data reaches as number `data`, from 0."""
    return row.hung - data if row.is_flipped else data + 1


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"
