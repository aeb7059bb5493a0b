"""The whole plan of a display as plain data: for text, JSON, paper and screens alike."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from patterns.colours import COLOURS
from streamer.display.model import Controller, Display, Port
from streamer.plan.addresses import (
    Extent,
    Free,
    SlotAddress,
    Universe,
    extent_of_fixture,
    extent_of_string,
    free_between,
    slot_address,
    universes_of,
)
from streamer.plan.asked import Asked, Host
from streamer.plan.assumptions import assumptions_of
from streamer.plan.electricity import PortCurrent, Power, Totals
from streamer.plan.findings import Finding, Severity
from streamer.plan.line_checks import line_findings
from streamer.plan.network_checks import network_findings
from streamer.plan.timing import DmxTime, LineTime, ShownRate, dmx_time, line_time, shown_rate
from streamer.plan.traffic import NetworkLoad, Traffic, controller_traffic, network_load


@dataclass(frozen=True, slots=True)
class StringPlan:
    """One port and the string on it."""

    name: str
    label: str
    number: int
    colour: str
    """The colour that the pattern `tint` gives it, by name."""
    nodes: int
    skip: int
    reversed: bool
    colour_order: str
    line: SlotAddress
    """What the controller is told: where the line begins, skipped nodes included."""
    extent: Extent
    time: LineTime
    current: PortCurrent | None = None
    """None where it has not been worked out."""


@dataclass(frozen=True, slots=True)
class FixturePlan:
    """One DMX light."""

    name: str
    channels: tuple[str, ...]
    extent: Extent
    time: DmxTime


@dataclass(frozen=True, slots=True)
class ControllerPlan:
    """One controller with all that is on it."""

    name: str
    protocol: str
    address: str
    addressing: str
    slots: int
    """In every packet."""
    traffic: Traffic
    strings: tuple[StringPlan, ...]
    fixtures: tuple[FixturePlan, ...]


@dataclass(frozen=True, slots=True)
class DisplayPlan:
    """Everything that is known of a display before anything hangs."""

    name: str
    nodes: int
    flashes_per_s: int
    """The most that a light may have in any second."""
    findings: tuple[Finding, ...]
    """Faults first."""
    assumptions: tuple[str, ...]
    rate: ShownRate
    network: NetworkLoad
    controllers: tuple[ControllerPlan, ...]
    universes: tuple[Universe, ...]
    free: tuple[Free, ...]
    power: Totals | None
    """None where it has not been worked out."""

    @property
    def works(self) -> bool:
        """Whether nothing was found that cannot work."""
        return all(finding.severity is not Severity.FAULT for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """Return it as JSON has it: the keys that the README lists."""
        return {"works": self.works, **asdict(self)}


def plan_of(
    display: Display,
    asked: Asked,
    host: Host,
    power: Power | None = None,
) -> DisplayPlan:
    """Return the plan of a display that has passed its checks; without `power` that part stays empty."""
    power = power or Power()
    universes = universes_of(display)
    traffic = [controller_traffic(each, universes, asked.rate_hz) for each in display.controllers]
    lines = [line_time(port) for port in display.ports]
    found = [
        *line_findings(display, lines, asked),
        *network_findings(display, universes, host, asked.rate_hz),
        *power.findings,
    ]
    return DisplayPlan(
        name=display.name,
        nodes=sum(port.nodes for port in display.ports),
        flashes_per_s=display.flashes_per_s,
        findings=tuple(sorted(found, key=lambda finding: finding.severity is not Severity.FAULT)),
        assumptions=(*assumptions_of(display), *power.assumptions),
        rate=shown_rate(display.controllers, asked.rate_hz),
        network=network_load(display, universes, asked.rate_hz),
        controllers=tuple(_controllers(display, traffic, power.currents)),
        universes=universes,
        free=free_between(universes),
        power=power.totals,
    )


def _controllers(
    display: Display, traffic: Sequence[Traffic], currents: Mapping[str, PortCurrent]
) -> list[ControllerPlan]:
    colours = {port.name: COLOURS[row % len(COLOURS)].name for row, port in enumerate(display.ports)}
    return [
        ControllerPlan(
            name=controller.name,
            protocol=controller.protocol.value,
            address=controller.address,
            addressing=controller.addressing.value,
            slots=controller.slots,
            traffic=each,
            strings=tuple(
                _string(controller, port, colours[port.name], currents.get(port.name))
                for port in controller.ports
            ),
            fixtures=_fixtures(controller),
        )
        for controller, each in zip(display.controllers, traffic, strict=True)
    ]


def _string(controller: Controller, port: Port, colour: str, current: PortCurrent | None) -> StringPlan:
    return StringPlan(
        name=port.name,
        label=port.label,
        number=port.number,
        colour=colour,
        nodes=port.nodes,
        skip=port.skip,
        reversed=port.reversed,
        colour_order=port.colour_order,
        line=slot_address(controller.protocol, port.universe, port.slot),
        extent=extent_of_string(controller, port),
        time=line_time(port),
        current=current,
    )


def _fixtures(controller: Controller) -> tuple[FixturePlan, ...]:
    return tuple(
        FixturePlan(
            name=fixture.name,
            channels=tuple(role.value for role in fixture.channels),
            extent=extent_of_fixture(controller, fixture),
            time=dmx_time(controller.slots),
        )
        for fixture in controller.fixtures
    )
