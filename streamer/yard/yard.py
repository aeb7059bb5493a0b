"""The yard: every controller of a display as a virtual one. Datagrams go in; what the lights show comes out.

It has no socket and no clock: the caller brings datagrams with the time, in seconds on any steady clock.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from patterns.plain import COMPONENTS, Bytes, Frame
from streamer.display.addresses import is_by_ipv6
from streamer.display.model import GROUPS, MULTICAST, MULTICAST_IPV6, Controller, Display, Protocol
from streamer.errors import PacketError, PlanError, Problem
from streamer.net.destinations import (
    LOOPBACK,
    LOOPBACK_BROADCAST,
    is_group,
)
from streamer.wire import artnet, e131, port_address
from streamer.wire.artnet import ArtDmx, ArtPoll, ArtSync
from streamer.wire.e131 import DataPacket, SyncPacket
from streamer.yard.faults import Fault, Swapped, check_faults
from streamer.yard.intake import Intake, OnLoss
from streamer.yard.messages import BEYOND_TOLD, PortSeen
from streamer.yard.notes import Notes
from streamer.yard.poll_replies import REPORT_COUNTERS, poll_replies
from streamer.yard.port import YardPort
from streamer.yard.reach import Listeners, Taker, loopback_address, reached
from streamer.yard.words import text

SYNC_ADDRESSES_LEARNT_MAX = 16
"""Each new one has the sockets opened anew; whoever sends more is not obeyed."""
GROUP_OF = {MULTICAST: e131.multicast_group, MULTICAST_IPV6: e131.multicast_group_v6}
BEATS_PER_S = 4
"""Of flickering nodes: each is dark for one beat in four, so no light flashes more than once a second."""
PARSERS = {Protocol.E131: e131.parse, Protocol.ARTNET: artnet.parse}


class Yard:
    """A display that has passed its checks, hung up on loopback."""

    def __init__(self, display: Display, on_loss: OnLoss = OnLoss.HOLD, seed: int = 0) -> None:
        self.display = display
        self.ports = {
            port.name: YardPort(controller, port, on_loss, seed)
            for controller in display.controllers
            for port in controller.ports
        }
        self._fixtures = [(controller, Intake(on_loss)) for controller in display.controllers]
        for controller, intake in self._fixtures:
            intake.listen(fixture.universe for fixture in controller.fixtures)
        self._ears = self._listening()
        self._notes = Notes()
        self._polls = 0
        self._learnt: set[int] = set()
        """Synchronization addresses that levels have named, beside those of the display."""

    def _listening(self) -> dict[tuple[Protocol, int], Listeners]:
        """Return who listens to each universe of each protocol."""
        ears: dict[tuple[Protocol, int], Listeners] = {}
        for controller, taker, intake in self._takers():
            for universe in intake.rows:
                ears.setdefault((controller.protocol, universe), []).append((controller, taker))
        return ears

    def _takers(self) -> Iterator[tuple[Controller, Taker, Intake]]:
        yield from ((port.controller, port, port.intake) for port in self.ports.values())
        yield from ((controller, intake, intake) for controller, intake in self._fixtures)

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
            case DataPacket():
                self._take_levels(packet, packet.universe, now, source, destination)
            case ArtDmx():
                self._take_levels(packet, packet.port_address, now, source, destination)
            case SyncPacket() | ArtSync():
                listeners = [
                    (owner, taker) for owner, taker, _ in self._takers() if owner.protocol is protocol
                ]
                # Every receiver is in the group that its levels name (ANSI E1.31-2018 clause 6.2.4).
                by_group = destination is not None and is_group(destination)
                for taker in reached(listeners, None if by_group else destination):
                    taker.take(packet, source, now)
            case ArtPoll():
                return self._answer(packet, destination or LOOPBACK)
        return ()

    def _take_levels(
        self, packet: DataPacket | ArtDmx, universe: int, now: float, source: str, destination: str | None
    ) -> None:
        protocol = Protocol.E131 if isinstance(packet, DataPacket) else Protocol.ARTNET
        takers = reached(self._ears.get((protocol, universe), []), destination)
        for taker in takers:
            taker.take(packet, source, now)
        if takers and isinstance(packet, DataPacket):
            self._learn(packet.sync_address)
        if not takers:
            self._notes.add((protocol, universe), _unwanted(packet, source, destination), now)

    def _learn(self, sync_address: int) -> None:
        if sync_address != e131.SYNC_ADDRESS_NONE and len(self._learnt) < SYNC_ADDRESSES_LEARNT_MAX:
            self._learnt.add(sync_address)

    def _answer(self, poll: ArtPoll, asked: str) -> tuple[bytes, ...]:
        if asked == LOOPBACK_BROADCAST:
            each = sorted(set(map(loopback_address, self.display.controllers)))
            return tuple(reply for address in each for reply in self._answer(poll, address))
        nodes: dict[str, list[int]] = {}
        live: frozenset[int] = frozenset()
        for controller, _, intake in self._takers():
            if controller.protocol is Protocol.ARTNET and loopback_address(controller) == asked:
                nodes.setdefault(controller.name, []).extend(filter(_is_port_address, intake.rows))
                live |= intake.live
        self._polls = (self._polls + 1) % REPORT_COUNTERS
        return tuple(poll_replies(poll, nodes, live, asked, self._polls))

    def expire(self, now: float) -> None:
        """Notice the sources that have gone silent, and let nodes flicker. Call it several times a second."""
        for _, _, intake in self._takers():
            intake.expire(now)
        for port in self.ports.values():
            port.string.beat = int(now * BEATS_PER_S)

    def set_faults(self, name: str, faults: Sequence[Fault]) -> None:
        """Give port `name` these faults in place of those it had; PlanError, and no change, if it cannot be.

        A swap is a fault of both ports: it appears on the other one, and goes with either.
        """
        check_faults(self.display, name, faults)
        before, after = self._partner(self.ports[name].faults), self._partner(faults)
        third = after and self._partner(self.ports[after].faults)
        if third and third != name:
            what = f"{after} is swapped with {third} already"
            raise PlanError([Problem(f"{name}, swapped", what, f"Make {after} healthy first")])
        if before:
            self.ports[before].set_faults(_without_swap(self.ports[before].faults))
        if after:
            others = _without_swap(self.ports[after].faults)
            self.ports[after].set_faults([*others, Swapped(port=name)])
        self.ports[name].set_faults(faults)
        self._ears = self._listening()

    @staticmethod
    def _partner(faults: Sequence[Fault]) -> str | None:
        return next((fault.port for fault in faults if isinstance(fault, Swapped)), None)

    def shown(self, name: str) -> Bytes:
        """Return what the nodes on a port's string show, an (n, 4) array; n may differ from the plan."""
        port = self.ports[name]
        feeding = self.ports[self._partner(port.faults) or name]
        return port.string.shown(feeding.line())

    def seen(self) -> Frame:
        """Return what every planned light shows; nodes that are missing are dark."""
        strings = [port.string.in_plan(self.shown(name)) for name, port in self.ports.items()]
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
        return tuple(self._port_seen(name, port) for name, port in self.ports.items())

    def _port_seen(self, name: str, port: YardPort) -> PortSeen:
        shown = self.shown(name)
        beyond = shown[port.string.planned :]
        return PortSeen(
            name=name,
            packets=port.intake.packets,
            lost=port.intake.lost,
            discarded=port.intake.discarded,
            is_live=bool(port.intake.live),
            lit=int(np.any(shown[: port.string.planned], axis=1).sum()),
            beyond=int(np.any(beyond, axis=1).sum()),
            hung=port.string.nodes,
            beyond_hex=beyond[:BEYOND_TOLD].tobytes().hex(),
            faults=tuple(map(text, port.faults)),
        )

    def note(self, now: float) -> str:
        """Return what is wrong with packets that belong to nobody; empty 5 s after the last of them."""
        return self._notes.text(now)

    def groups(self) -> frozenset[str]:
        """Return the multicast groups that are listened to now.

        Those of their universes by controllers without an address of their own; those of synchronization,
        which goes to groups alone (ANSI E1.31-2018 clause 6.3.3.1), by all that have one.
        """
        takers = [each for each in self._takers() if each[0].address in GROUPS]
        wanted = {(owner.address, universe) for owner, _, intake in takers for universe in intake.rows}
        for controller in self.display.controllers:
            family = MULTICAST_IPV6 if is_by_ipv6(controller.address) else MULTICAST
            wanted |= {(family, address) for address in {controller.sync_address, *self._learnt}}
        return frozenset(
            GROUP_OF[address](universe)
            for address, universe in wanted
            if e131.UNIVERSE_MIN <= universe <= e131.UNIVERSE_MAX
        )


def _is_port_address(universe: int) -> bool:
    return 0 <= universe <= port_address.PORT_ADDRESS_MAX


def _without_swap(faults: Sequence[Fault]) -> list[Fault]:
    return [fault for fault in faults if not isinstance(fault, Swapped)]


def _unwanted(packet: DataPacket | ArtDmx, source: str, destination: str | None) -> str:
    nobody = "but no port listens to it" + (
        f" at {destination}" if destination not in (None, LOOPBACK) else ""
    )
    if isinstance(packet, DataPacket):
        return f"Universe {packet.universe} arrives from {packet.source_name!r} {nobody}"
    return f"Port-Address {port_address.text(packet.port_address)} arrives from {source} {nobody}"
