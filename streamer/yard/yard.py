"""The yard: every controller of a display as a virtual one. Datagrams go in; what the lights show comes out.

It has no socket and no clock: the caller brings datagrams with the time, in seconds on any steady clock.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.model import MULTICAST, Controller, Display, Protocol
from streamer.errors import PacketError, PlanError, Problem
from streamer.net.destinations import LOOPBACK, LOOPBACK_PREFIX, is_multicast
from streamer.wire import artnet, e131, port_address
from streamer.wire.artnet import ArtDmx, ArtPoll, ArtSync
from streamer.wire.e131 import DataPacket, SyncPacket
from streamer.yard.faults import Fault, Swapped, check_faults
from streamer.yard.intake import Intake, OnLoss
from streamer.yard.messages import PortSeen
from streamer.yard.notes import Notes
from streamer.yard.outlet import Outlet
from streamer.yard.poll_replies import REPORT_COUNTERS, poll_replies
from streamer.yard.words import text

PARSERS = {Protocol.E131: e131.parse, Protocol.ARTNET: artnet.parse}


def loopback_address(controller: Controller) -> str:
    """Return where a controller's double listens: its own address on loopback, else 127.0.0.1."""
    return controller.address if controller.address.startswith(LOOPBACK_PREFIX) else LOOPBACK


class Yard:
    """A display that has passed its checks, hung up on loopback."""

    def __init__(self, display: Display, on_loss: OnLoss = OnLoss.HOLD, seed: int = 0) -> None:
        self.display = display
        self.outlets = {
            port.name: Outlet(controller, port, on_loss, seed)
            for controller in display.controllers
            for port in controller.ports
        }
        self._fixtures = [(controller, Intake(on_loss)) for controller in display.controllers]
        for controller, intake in self._fixtures:
            intake.listen(fixture.universe for fixture in controller.fixtures)
        self._notes = Notes()
        self._replies = 0

    def take(
        self,
        payload: bytes,
        protocol: Protocol,
        now: float,
        source: str = LOOPBACK,
        destination: str | None = None,
    ) -> tuple[bytes, ...]:
        """Take a datagram from the network; return what is to be sent back to where it came from.

        `destination` is the address that it was sent to, None if not known. Never raises for what is in it.
        """
        try:
            packet = PARSERS[protocol](payload)
        except PacketError as error:
            self._notes.add(protocol, f"A datagram from {source} was dropped: {error}", now)
            return ()
        match packet:
            case DataPacket() | ArtDmx():
                self._take_levels(packet, protocol, now, source, destination)
            case SyncPacket() | ArtSync():
                self._synchronize(packet, protocol, now, source, destination)
            case ArtPoll():
                return self._answer(packet, destination)
        return ()

    def _take_levels(
        self, packet: DataPacket | ArtDmx, protocol: Protocol, now: float, source: str, destination: str | None
    ) -> None:
        universe = packet.universe if isinstance(packet, DataPacket) else packet.port_address
        is_wanted = False
        for outlet in self.outlets.values():
            if universe in outlet.intake.rows and _hears(outlet.controller, protocol, destination):
                outlet.receive(packet, source, now)
                is_wanted = True
        for controller, intake in self._fixtures:
            if universe in intake.rows and _hears(controller, protocol, destination):
                intake.receive(packet, source, now)
                is_wanted = True
        if not is_wanted:
            self._notes.add((protocol, universe), _unwanted(packet, source), now)

    def _synchronize(
        self, packet: SyncPacket | ArtSync, protocol: Protocol, now: float, source: str, destination: str | None
    ) -> None:
        for outlet in self.outlets.values():
            if _hears(outlet.controller, protocol, destination):
                outlet.receive(packet, source, now)
        for controller, intake in self._fixtures:
            if _hears(controller, protocol, destination):
                intake.synchronize(packet, source, now)

    def _answer(self, poll: ArtPoll, destination: str | None) -> tuple[bytes, ...]:
        nodes = {
            controller.name: self._port_addresses(controller)
            for controller in self.display.controllers
            if _hears(controller, Protocol.ARTNET, destination)
        }
        live = frozenset(universe for intake in self._intakes() for universe in intake.live)
        self._replies = (self._replies + 1) % REPORT_COUNTERS
        return tuple(poll_replies(poll, nodes, live, destination or LOOPBACK, self._replies))

    def _port_addresses(self, controller: Controller) -> list[int]:
        intakes = [outlet.intake for outlet in self.outlets.values() if outlet.controller is controller]
        intakes += [intake for owner, intake in self._fixtures if owner is controller]
        return [
            universe
            for intake in intakes
            for universe in intake.rows
            if 0 <= universe <= port_address.PORT_ADDRESS_MAX
        ]

    def _intakes(self) -> Iterator[Intake]:
        yield from (outlet.intake for outlet in self.outlets.values())
        yield from (intake for _, intake in self._fixtures)

    def expire(self, now: float) -> None:
        """Notice the sources that have gone silent. Call it several times a second."""
        for intake in self._intakes():
            intake.expire(now)

    def set_faults(self, name: str, faults: Sequence[Fault]) -> None:
        """Give port `name` these faults in place of those it had; PlanError, and no change, if it cannot have them.

        A swap is a fault of both ports: it appears on the other one, and goes with either.
        """
        check_faults(self.display, name, faults)
        before, after = self._partner(self.outlets[name].faults), self._partner(faults)
        third = after and self._partner(self.outlets[after].faults)
        if third and third != name:
            what = f"{after} is swapped with {third} already"
            raise PlanError([Problem(f"{name}, swapped", what, f"Make {after} healthy first")])
        if before:
            self.outlets[before].set_faults(_without_swap(self.outlets[before].faults))
        if after:
            others = _without_swap(self.outlets[after].faults)
            self.outlets[after].set_faults([*others, Swapped(port=name)])
        self.outlets[name].set_faults(faults)

    @staticmethod
    def _partner(faults: Sequence[Fault]) -> str | None:
        return next((fault.port for fault in faults if isinstance(fault, Swapped)), None)

    def shown(self, name: str) -> Bytes:
        """Return what the nodes show that hang on the string of port `name`, an (n, 4) array; n may not be as planned."""
        outlet = self.outlets[name]
        feeding = self.outlets[self._partner(outlet.faults) or name]
        return outlet.string.shown(feeding.line())

    def seen(self) -> Frame:
        """Return what every planned light shows; nodes that are missing are dark."""
        strings = [outlet.string.in_plan(self.shown(name)) for name, outlet in self.outlets.items()]
        channels = [
            intake.levels[intake.rows[fixture.universe], fixture.slot : fixture.slot + len(fixture.channels)]
            for controller, intake in self._fixtures
            for fixture in controller.fixtures
        ]
        return Frame(
            np.concatenate([np.zeros((0, COMPONENTS), np.uint8), *strings]),
            np.concatenate([np.zeros(0, np.uint8), *channels]),
        )

    def ports_seen(self) -> tuple[PortSeen, ...]:
        """Return what arrives at each port and how many nodes are lit."""
        return tuple(self._port_seen(name, outlet) for name, outlet in self.outlets.items())

    def _port_seen(self, name: str, outlet: Outlet) -> PortSeen:
        lit = self.shown(name).any(axis=1)
        return PortSeen(
            name=name,
            packets=outlet.intake.packets,
            lost=outlet.intake.lost,
            discarded=outlet.intake.discarded,
            is_live=bool(outlet.intake.live),
            lit=int(lit[: outlet.string.planned].sum()),
            beyond=int(lit[outlet.string.planned :].sum()),
            faults=tuple(map(text, outlet.faults)),
        )

    def note(self, now: float) -> str:
        """Return what is wrong with packets that belong to nobody, for 5 s after the last; empty if nothing is."""
        return self._notes.text(now)

    def groups(self) -> frozenset[str]:
        """Return the multicast groups that controllers without an address of their own listen to now."""
        wanted = [outlet.intake for outlet in self.outlets.values() if outlet.controller.address == MULTICAST]
        wanted += [intake for controller, intake in self._fixtures if controller.address == MULTICAST]
        universes = {universe for intake in wanted for universe in intake.rows}
        universes |= {each.sync_address for each in self.display.controllers if each.address == MULTICAST}
        return frozenset(
            e131.multicast_group(universe)
            for universe in universes
            if e131.UNIVERSE_MIN <= universe <= e131.UNIVERSE_MAX
        )


def _hears(controller: Controller, protocol: Protocol, destination: str | None) -> bool:
    if controller.protocol is not protocol:
        return False
    if destination is None:
        return True
    if is_multicast(destination) or controller.address == MULTICAST:
        # ANSI E1.31-2018 clause 9: what is sent to a receiver's own address counts as well as its groups.
        return controller.address == MULTICAST
    return destination == loopback_address(controller)


def _without_swap(faults: Sequence[Fault]) -> list[Fault]:
    return [fault for fault in faults if not isinstance(fault, Swapped)]


def _unwanted(packet: DataPacket | ArtDmx, source: str) -> str:
    if isinstance(packet, DataPacket):
        return f"Universe {packet.universe} arrives from {packet.source_name!r} but no port listens to it"
    return f"Port-Address {port_address.text(packet.port_address)} arrives from {source} but no port listens to it"
