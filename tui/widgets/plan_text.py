"""The plan of a display in words and tables, for any width; it loads no arithmetic."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice, zip_longest
from typing import TYPE_CHECKING, NamedTuple

from textual.content import Content
from textual.widgets import Static

from tui.plain import shown
from tui.planning import Planned, Trouble
from tui.tables import Column, Laid, lay

if TYPE_CHECKING:
    from streamer.plan.report import ControllerPlan, FixturePlan, StringPlan
    from streamer.plan.traffic import Traffic
    from streamer.power.injection import InjectionAdvice
    from streamer.power.plan import PortPower

CAUTION = (
    "Put a fuse in every feed, at the supply, sized for the thinnest wire behind it. Mains outdoors goes "
    "through a residual-current device (RCD; GFCI in North America). Take the power away before you touch a "
    "wire. Mains wiring is for a licensed electrician, and local codes come before these figures."
)
FINE = "Nothing was found that would go wrong."
TOLD = 40
"""Troubles told in full; a display of a thousand ports may have more than anyone reads here."""
NAME_CELLS = 11
"""What a name keeps of itself, so that the ports of one controller can be told apart."""
MEGA, PERCENT = 1e6, 100
TOO_LOW = "!"
PROTOCOLS = {"e131": "E1.31", "artnet": "Art-Net"}


class Row(NamedTuple):
    """One port with its power, or one fixture, which has neither label nor power."""

    controller: "ControllerPlan"
    what: "StringPlan | FixturePlan"
    string: "StringPlan | None"
    power: "PortPower | None"


def lines_of(planned: Planned, width: int) -> Iterator[Content]:
    """Yield the paragraphs of a plan for so many cells."""
    yield from _troubles("Would go wrong", planned.faults, "$error bold")
    yield from _troubles("Worth a look", planned.cautions, "bold")
    if not planned.faults and not planned.cautions:
        yield Content.styled(FINE, "bold")
    yield _head("Ports")
    yield from _ports(planned, width)
    yield _head("Power")
    yield from _power(planned, width)
    yield _head("Network")
    yield from _network(planned)
    yield _head("Taken for granted")
    yield from (Content(f"- {shown(each)}") for each in planned.plan.assumptions)


def _head(text: str) -> Content:
    return Content.styled(f"\n{text}", "bold $accent")


def _troubles(title: str, troubles: Sequence[Trouble], style: str) -> Iterator[Content]:
    if troubles:
        yield Content.styled(f"{title}: {len(troubles)}", "bold $accent")
    for each, after in zip_longest(troubles[:TOLD], troubles[1:TOLD]):
        yield Content.assemble((f"! {shown(each.place)}: ", style), f"{shown(each.what)}.")
        if after is None or after.instead != each.instead:
            yield Content.styled(f"→ {shown(each.instead)}", "$accent")
    if len(troubles) > TOLD:
        yield Content(f"{len(troubles) - TOLD} more: `ropewalk plan` tells them all.")


def _ports(planned: Planned, width: int) -> Iterator[Content]:
    rows = list(_rows(planned))
    laid = lay(_port_columns(rows, planned.power.level_percent), width)
    yield Content.styled(
        f"Universe/slot; amperes at full white, at {planned.power.level_percent:g} % and as sent now; the "
        "lowest volts at that level, and at which node; the frames a second that its line can show.",
        "$quiet",
    )
    yield Content.styled(laid.head, "bold $quiet")
    last = None
    for row, text in zip(rows, laid.rows, strict=True):
        if row.controller is not last:
            last = row.controller
            yield Content.styled(_controller(last), "$secondary")
        yield Content.styled(text, "$error" if row.power and _is_low(row.power) else "")
    if any(row.power and _is_low(row.power) for row in rows):
        yield Content(f"{TOO_LOW} lower than the nodes need.")
    yield from _left_out(laid)
    rate = planned.plan.rate
    yield Content(
        f"The whole display shows {rate.limit_hz:.1f} frames a second at most: {shown(rate.held_by)}, "
        f"{shown(rate.reason)}. {rate.asked_hz:g} are sent."
    )


def _rows(planned: Planned) -> Iterator[Row]:
    powers: Mapping[str, PortPower] = {port.name: port for port in planned.power.ports}
    for controller in planned.plan.controllers:
        for string in controller.strings:
            yield Row(controller, string, string, powers[string.name])
        for fixture in controller.fixtures:
            yield Row(controller, fixture, None, None)


def _controller(controller: "ControllerPlan") -> str:
    return f"{shown(controller.name)}: {PROTOCOLS[controller.protocol]} to {shown(controller.address)}"


def _is_low(power: "PortPower") -> bool:
    return power.level.lowest_volts < power.basis.kind.volts_min


def _port_columns(rows: Sequence[Row], level_percent: float) -> Iterator[Column]:
    places = [each.what.extent for each in rows]
    strings, powers = [each.string for each in rows], [each.power for each in rows]
    yield Column("port", 0, tuple(each.what.name for each in rows), is_text=True, text_cells=NAME_CELLS)
    yield Column("label", 9, tuple(each.label if each else "fixture" for each in strings), is_text=True)
    yield Column("from", 1, tuple(f"{each.first.universe}/{each.first.slot}" for each in places))
    yield Column("to", 8, tuple(f"{each.last.universe}/{each.last.slot}" for each in places))
    yield Column("nodes", 5, tuple(str(each.nodes) if each else "" for each in strings))
    yield Column("white", 4, tuple(_amps(each.white.amps) if each else "" for each in powers))
    yield Column(f"{level_percent:g}%", 2, tuple(_amps(each.level.amps) if each else "" for each in powers))
    if any(each and each.now for each in powers):
        yield Column("now", 6, tuple(_amps(each.now.amps) if each and each.now else "" for each in powers))
    yield Column("volts", 3, tuple(_volts(each) if each else "" for each in powers))
    yield Column("at", 10, tuple(str(each.level.lowest_node) if each else "" for each in powers))
    yield Column("Hz", 7, tuple(f"{each.what.time.limit_hz:.0f}" for each in rows))


def _volts(power: "PortPower") -> str:
    return f"{power.level.lowest_volts:.2f}{TOO_LOW if _is_low(power) else ''}"


def _amps(amps: float) -> str:
    return f"{amps:.2f}"


def _left_out(laid: Laid) -> Iterator[Content]:
    if laid.left_out:
        yield Content.styled(f"A wider screen shows too: {', '.join(laid.left_out)}.", "$quiet")


def _power(planned: Planned, width: int) -> Iterator[Content]:
    power = planned.power
    now = "nothing is sent now" if power.now_a is None else f"{power.now_a:.2f} A as sent now"
    yield Content(
        f"{planned.plan.nodes:,} nodes: {power.white_a:.2f} A at full white, {power.level_a:.2f} A at "
        f"{power.level_percent:g} %; {now}."
    )
    supplies = power.supplies
    if supplies:
        columns = [
            Column("supply", 0, tuple(each.name for each in supplies), is_text=True, text_cells=NAME_CELLS),
            Column("V", 5, tuple(f"{each.volts:g}" for each in supplies)),
            Column("limit", 1, tuple(_amps(each.limit_a) for each in supplies)),
            Column("white", 4, tuple(_amps(each.white_a) for each in supplies)),
            Column(f"{power.level_percent:g}%", 2, tuple(_amps(each.level_a) for each in supplies)),
        ]
        if power.now_a is not None:
            columns.append(Column("now", 3, tuple(_amps(each.now_a or 0.0) for each in supplies)))
        laid = lay(columns, width)
        yield Content.styled("Amperes, and the limit for hours:", "$quiet")
        yield Content.styled(laid.head, "bold $quiet")
        for each, text in zip(supplies, laid.rows, strict=True):
            yield Content.styled(text, "$error" if each.level_a > each.limit_a else "")
        yield from _left_out(laid)
    else:
        yield Content("The display file names no supply, so none is checked.")
    yield from _feeds(planned)
    yield Content.styled(CAUTION, "$warning")


def _feeds(planned: Planned) -> Iterator[Content]:
    """Yield where more feeds would keep full white above what the nodes need, strings that are alike once."""
    alike = defaultdict(list)
    for port in planned.power.ports:
        if port.advice is not None:
            alike[_feed(port.advice)].append(shown(port.name))
    if alike:
        yield Content("For full white, feed also (nodes counted from where the data enters):")
    for text, names in islice(alike.items(), TOLD):
        first, others = names[0], len(names) - 1
        yield Content(f"- {first}{f' and {others} like it' if others else ''}: {text}")
    if len(alike) > TOLD:
        yield Content(f"{len(alike) - TOLD} more have no room here.")


def _feed(advice: "InjectionAdvice") -> str:
    if not advice.is_enough:
        from streamer.power.injection import NONE_SUFFICES

        return f"{NONE_SUFFICES}; the lowest is {advice.lowest_volts:.2f} V at best."
    nodes = f"after node{'s' * (len(advice.after) > 1)} {', '.join(map(str, advice.after))}"
    return f"{nodes}, by {advice.lead_wire}; the lowest is {advice.lowest_volts:.2f} V then."


def _network(planned: Planned) -> Iterator[Content]:
    for each in planned.plan.controllers:
        yield Content(f"{shown(each.name)}: {_traffic(each.traffic)}")
    network = planned.plan.network
    groups = f"; {network.groups} multicast groups" if network.groups else ""
    yield Content(f"all together: {_traffic(network.total)}{groups}")


def _traffic(traffic: "Traffic") -> str:
    return (
        f"{traffic.packets_per_s:,.0f} packets/s, {traffic.bits_per_s / MEGA:.2f} Mb/s, "
        f"{traffic.share_of_100m * PERCENT:.1f} % of 100 Mb/s"
    )


class PlanText(Static):
    """Says that it is being worked out until `show_plan` was called; lays itself out anew at every width."""

    planned: Planned | None = None

    def show_plan(self, planned: Planned) -> None:
        """Show this plan."""
        self.planned = planned
        self._lay()

    def on_resize(self) -> None:
        """Lay it out for the new width."""
        self._lay()

    def _lay(self) -> None:
        if self.planned is not None and self.size.width:
            self.update(Content("\n").join(lines_of(self.planned, self.size.width)))
