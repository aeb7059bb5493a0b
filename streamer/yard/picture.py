"""What the yard shows as data and as plain lines, for other programs and for terminals without a screen."""

from collections.abc import Iterator
from typing import Any

from patterns.plain import Bytes
from streamer.yard.messages import PortSeen
from streamer.yard.yard import Yard

COLOURS = {3: "#{0:02x}{1:02x}{2:02x}", 4: "#{0:02x}{1:02x}{2:02x}{3:02x}"}
"""By the number of lights of a node; RGBW nodes as "#rrggbbww"."""


def picture(yard: Yard, seconds: float, now: float) -> dict[str, Any]:
    """Return what every port's nodes show, `seconds` after the start, as a dict that JSON can say.

    `nodes` has one colour for each planned node, `beyond` for those that hang there beyond the plan.
    """
    ports = zip(yard.display.ports, yard.ports_seen(), strict=True)
    return {
        "seconds": round(seconds, 3),
        "ports": [
            {
                "name": port.name,
                "label": port.label,
                "universe": port.universe,
                "slot": port.slot,
                "packets": seen.packets,
                "lost": seen.lost,
                "discarded": seen.discarded,
                "live": seen.is_live,
                "faults": list(seen.faults),
                **_nodes(yard, port.name),
            }
            for port, seen in ports
        ],
        "fixtures": _fixtures(yard),
        "note": yard.note(now),
    }


def _nodes(yard: Yard, name: str) -> dict[str, list[str]]:
    string = yard.ports[name].string
    colour = COLOURS[len(string.colour_order)]
    shown = yard.shown(name)
    return {
        "nodes": [colour.format(*node) for node in string.in_plan(shown).tolist()],
        "beyond": [colour.format(*node) for node in shown[string.planned :].tolist()],
    }


def _fixtures(yard: Yard) -> list[dict[str, Any]]:
    levels: Bytes = yard.seen().channels
    fixtures = [fixture for controller in yard.display.controllers for fixture in controller.fixtures]
    found, first = [], 0
    for fixture in fixtures:
        values = levels[first : first + len(fixture.channels)].tolist()
        found.append(
            {"name": fixture.name, "universe": fixture.universe, "slot": fixture.slot, "channels": values}
        )
        first += len(values)
    return found


def lines(yard: Yard, seconds: float, now: float) -> Iterator[str]:
    """Yield the same as lines of text: one for each port and fixture, and one for what is wrong."""
    yield f"{seconds:.0f} s"
    for port, seen in zip(yard.display.ports, yard.ports_seen(), strict=True):
        label = f" ({port.label})" if port.label else ""
        yield f"  {port.name}{label}: {_state(seen)}, {seen.lit} of {port.nodes} nodes lit{_extras(seen)}"
    for fixture in _fixtures(yard):
        yield f"  {fixture['name']}: {' '.join(map(str, fixture['channels']))}"
    if note := yard.note(now):
        yield f"  {note}"


def _state(seen: PortSeen) -> str:
    state = "live" if seen.is_live else "nobody sends"
    plural = "" if seen.packets == 1 else "s"
    missing = f", {seen.lost} lost" if seen.lost else ""
    discarded = f", {seen.discarded} discarded" if seen.discarded else ""
    return f"{state}, {seen.packets} packet{plural}{missing}{discarded}"


def _extras(seen: PortSeen) -> str:
    beyond = f", {seen.beyond} beyond the plan" if seen.beyond else ""
    return beyond + "".join(f"; {fault}" for fault in seen.faults)
