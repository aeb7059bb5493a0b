"""A plan in words for a terminal of any width: what would go wrong first, then port by port."""

import shutil
from collections.abc import Iterator, Sequence

from streamer.cli.common import counted
from streamer.cli.power_text import port_power, totals_power
from streamer.cli.ruler import TIED, Ruler
from streamer.display.model import Addressing, Protocol
from streamer.display.numbering import PROTOCOL_NAME, slots_text
from streamer.plan.addresses import Extent, Universe
from streamer.plan.findings import Finding, Severity
from streamer.plan.report import ControllerPlan, DisplayPlan, StringPlan
from streamer.plan.timing import ShownRate
from streamer.plan.traffic import NetworkLoad, Traffic

WIDTH_MOST = 100
WIDTH_LEAST = 30
WIDTH_OF_A_PIPE = 80
LABEL_WIDTH_LEAST, LABEL_WIDTH_MOST = 12, 20
INDENT = 2
ARROW = "-> "
WHOLE_FROM = 100
"""From here on a rate is told without its tenths."""
KILO, MEGA = 1_000, 1_000_000
SMALL_BITS_PER_S = 100_000
SMALL_SHARE = 0.001
SEVERITY_WORDS = {Severity.FAULT: "CANNOT WORK", Severity.WARNING: "WATCH OUT"}
ADDRESSING_WORDS = {
    Addressing.ALIGNED: "nodes kept whole",
    Addressing.PACKED: "nodes split where a universe ends",
}


def plan_text(made: DisplayPlan, width: int | None = None) -> str:
    """Return the plan as lines; without a width, as wide as the terminal."""
    columns = width or shutil.get_terminal_size((WIDTH_OF_A_PIPE, 0)).columns
    return "\n".join(_lines(made, Ruler(min(max(columns, WIDTH_LEAST), WIDTH_MOST), _label_width(made))))


def _label_width(made: DisplayPlan) -> int:
    names = [string.name for controller in made.controllers for string in controller.strings]
    longest = max(map(len, names), default=0) + INDENT
    return min(max(longest, LABEL_WIDTH_LEAST), LABEL_WIDTH_MOST)


def _lines(made: DisplayPlan, ruler: Ruler) -> Iterator[str]:
    yield from ruler.plain(f"{made.name}: {', '.join(_counts(made))}")
    yield ""
    yield from _findings(made.findings, ruler)
    yield from ruler.beside("Frames", *_rate(made.rate))
    yield from ruler.beside(
        "Network",
        f"at {made.rate.asked_hz:g} frames a second {_traffic(made.network.total)}",
        *_overhead(made.network),
    )
    yield from ruler.beside("Flashes", f"at most {made.flashes_per_s} of any light in any second")
    if made.power:
        yield from totals_power(made.power, ruler)
    for controller in made.controllers:
        yield ""
        yield from _controller(controller, ruler)
    yield ""
    yield "Universes"
    for alike in _alike(made.universes):
        yield from _universes(alike, ruler)
    for free in made.free:
        yield from ruler.plain(f"{free.text}: free", INDENT)
    yield ""
    yield "Taken for granted"
    for assumption in made.assumptions:
        yield from ruler.plain(assumption, INDENT)


def _counts(made: DisplayPlan) -> list[str]:
    strings = sum(len(controller.strings) for controller in made.controllers)
    fixtures = sum(len(controller.fixtures) for controller in made.controllers)
    counts = {"controller": len(made.controllers), "port": strings, "node": made.nodes, "fixture": fixtures}
    return [
        _tied(counted(count, what)) for what, count in (counts | {"universe": len(made.universes)}).items()
    ]


def _findings(findings: tuple[Finding, ...], ruler: Ruler) -> Iterator[str]:
    if not findings:
        yield from ruler.plain("Nothing found that would go wrong.")
        yield ""
    for finding in findings:
        yield from ruler.plain(f"{SEVERITY_WORDS[finding.severity]}: {finding.place}")
        yield from ruler.plain(f"{finding.what[:1].upper()}{finding.what[1:]}.", INDENT, hang=0)
        yield from ruler.plain(f"{ARROW}{finding.instead}", INDENT, hang=len(ARROW))
        yield ""


def _rate(rate: ShownRate) -> Iterator[str]:
    yield f"at most {_hz(rate.limit_hz)} a second, held back by {rate.held_by}: {rate.reason}"
    if rate.slowest_port_hz and rate.slowest_port != rate.held_by:
        yield f"the slowest line is {rate.slowest_port}: {_hz(rate.slowest_port_hz)} a second"


def _overhead(network: NetworkLoad) -> Iterator[str]:
    parts = {"synchronization": network.synchronization, "discovery": network.discovery}
    told = [f"{name} {_per_s(part)}" for name, part in parts.items() if part.packets_per_s]
    if told:
        yield f"of these {', '.join(told)}"


def _controller(controller: ControllerPlan, ruler: Ruler) -> Iterator[str]:
    name = PROTOCOL_NAME[Protocol(controller.protocol)]
    kept = ADDRESSING_WORDS[Addressing(controller.addressing)]
    sentence = f"{name} to {controller.address}, {_tied(f'{controller.slots} slots')} a packet, {kept}"
    yield from ruler.beside(controller.name, sentence, _traffic(controller.traffic))
    for string in controller.strings:
        yield from ruler.beside(f"{' ' * INDENT}{string.name}", *_string(string))
    for fixture in controller.fixtures:
        channels = f"DMX, {counted(len(fixture.channels), 'channel')}: {', '.join(fixture.channels)}"
        yield from ruler.beside(f"{' ' * INDENT}{fixture.name}", channels, _extent(fixture.extent))


def _string(string: StringPlan) -> Iterator[str]:
    parts = [
        string.label,
        f"{_tied(counted(string.nodes, 'node'))} {string.colour_order}",
        f"{_tied(counted(string.skip, 'node'))} skipped before them" if string.skip else "",
        "fed at its far end" if string.reversed else "",
        f"{_tied(counted(string.extent.split_nodes, 'node'))} split" if string.extent.split_nodes else "",
    ]
    yield ", ".join(filter(None, parts))
    yield _extent(string.extent)
    taken = "" if string.time.chip else ", timing taken for granted"
    yield f"up to {_hz(string.time.limit_hz)} frames a second{taken}"
    if string.current:
        yield from port_power(string.name, string.current)


def _extent(extent: Extent) -> str:
    first, last = extent.first, extent.last
    channels = f"absolute channels {first.channel}-{last.channel}"
    if first.universe == last.universe:
        return f"{_tied(first.text)}, {_tied(slots_text(first.slot, last.slot))}; {channels}"
    ends = [f"{_tied(each.text)}, {_tied(f'slot {each.slot}')}" for each in (first, last)]
    return f"{' to '.join(ends)}; {channels}"


def _alike(universes: Sequence[Universe]) -> list[list[Universe]]:
    """Return the universes in runs of numbers that follow each other and are filled alike by the same."""
    runs: list[list[Universe]] = []
    for universe in universes:
        last = runs[-1][-1] if runs else None
        if last and universe.universe == last.universe + 1 and _filling(universe) == _filling(last):
            runs[-1].append(universe)
        else:
            runs.append([universe])
    return runs


def _filling(universe: Universe) -> tuple[object, ...]:
    where = (universe.protocol, universe.address)
    return (*where, universe.members, universe.slots_used, universe.slots_left, universe.next_slot)


def _universes(alike: Sequence[Universe], ruler: Ruler) -> Iterator[str]:
    """Yield the lines on a run of universes that are filled alike, or on one."""
    first, last = alike[0], alike[-1]
    free = f", free from {first.next_slot} on" if first.slots_left and first.next_slot else ""
    shared = "shared by " if first.is_shared else ""
    each = " in each" if len(alike) > 1 else ""
    name = _up_to(first.text, last.text.split(" ", 1)[1] if each else "")
    yield from ruler.plain(
        f"{name}: {first.slots_used} slots used{each}, {first.slots_left} left{free}; "
        f"{shared}{', '.join(first.members)}",
        INDENT,
    )
    if first.groups and last.groups:
        unused = "" if first.is_multicast else f" (not used: sent to {first.address})"
        ipv4 = _up_to(first.groups.ipv4, last.groups.ipv4 if each else "")
        ipv6 = _up_to(first.groups.ipv6, last.groups.ipv6 if each else "")
        yield from ruler.plain(f"group{'s' if each else ''} {ipv4}, {ipv6}{unused}", INDENT * 3)


def _up_to(first: str, last: str) -> str:
    return f"{first} to {last}" if last else first


def _traffic(traffic: Traffic) -> str:
    return (
        f"{_per_s(traffic)}, {_share(traffic.share_of_100m)} of {_tied('100 Mb/s')}, "
        f"{_share(traffic.share_of_1g)} of {_tied('1 Gb/s')}"
    )


def _per_s(traffic: Traffic) -> str:
    packets = f"{traffic.packets_per_s:.0f}" if traffic.packets_per_s >= 1 else f"{traffic.packets_per_s:.1g}"
    return f"{_tied(f'{packets} packets/s')}, {_tied(_bits(traffic.bits_per_s))}"


def _bits(bits_per_s: float) -> str:
    if bits_per_s < SMALL_BITS_PER_S:
        return f"{bits_per_s / KILO:.1f} kb/s"
    return f"{bits_per_s / MEGA:.2f} Mb/s"


def _share(share: float) -> str:
    told = f"{share:.1%}" if share >= SMALL_SHARE else f"under {SMALL_SHARE:.1%}"
    return _tied(told.replace("%", " %"))


def _hz(rate_hz: float) -> str:
    return f"{rate_hz:.0f}" if rate_hz >= WHOLE_FROM else f"{rate_hz:.1f}"


def _tied(text: str) -> str:
    return text.replace(" ", TIED)
