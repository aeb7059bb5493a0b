"""Where a run's packets leave this machine: the sender for data, and those for universe discovery."""

import time
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv4Interface
from typing import NamedTuple

from streamer.display.addresses import controller_text, is_by_ipv6
from streamer.display.model import MULTICAST, MULTICAST_IPV6, Controller, Protocol
from streamer.engine.ipv6 import check_ipv6
from streamer.engine.messages import Setup
from streamer.errors import NetworkError
from streamer.net.batched import open_sender
from streamer.net.carrier import CarrierWatch
from streamer.net.interfaces import (
    Interface,
    broadcast_addresses,
    find_interface,
    interface_towards,
    list_interfaces,
)
from streamer.net.sender import Sender, UdpSender
from streamer.wire import e131

ANY_GROUP = {MULTICAST: e131.multicast_group(1), MULTICAST_IPV6: e131.multicast_group_v6(1)}
"""Stands for all groups when asking which interface the operating system would choose."""


class Broadcast(NamedTuple):
    """How all nodes of a network are reached."""

    sender: Sender
    address: str


@dataclass(frozen=True, slots=True)
class Outlet:
    """The senders of a run, and how they leave in words."""

    data: Sender
    discovery: tuple[Sender, ...]
    """One by each interface that leads to an E1.31 controller by IPv4; synchronization goes the same way."""
    words: str
    broadcasts: Mapping[str, Broadcast] = field(default_factory=dict)
    """By the address of an Art-Net controller: where an ArtSync for it goes."""
    discovery_ipv6: tuple[Sender, ...] = ()
    """The same as `discovery` for controllers that are reached by IPv6."""
    synchronization: str = ""
    """Where synchronization packets go, in words; empty when there are none."""
    carriers: tuple[CarrierWatch, ...] = ()
    """One for each interface that packets leave by."""

    @property
    def senders(self) -> tuple[Sender, ...]:
        """All of them, each once, the one for data first."""
        broadcasts = dict.fromkeys(each.sender for each in self.broadcasts.values())
        return (self.data, *self.discovery, *self.discovery_ipv6, *broadcasts)

    def send_to_groups(self, packet: bytes, universe: int) -> int:
        """Send the same octets to a universe's group of IPv4 and of IPv6, as far as each is in use.

        Return how many packets that was.
        """
        for sender in self.discovery:
            sender.send_one(packet, (e131.multicast_group(universe), e131.PORT))
        for sender in self.discovery_ipv6:
            sender.send_one(packet, (e131.multicast_group_v6(universe), e131.PORT))
        return len(self.discovery) + len(self.discovery_ipv6)

    def errors(self) -> dict[str, int]:
        """Return the failed sends of all senders by the operating system's name for the error."""
        errors: dict[str, int] = {}
        for sender in self.senders:
            for name, packets in sender.counters.errors.items():
                errors[name] = errors.get(name, 0) + packets
        return errors

    def close(self) -> None:
        """Close every socket."""
        for sender in self.senders:
            sender.close()


OpenOutlet = Callable[[Setup], Outlet]


def open_outlet(setup: Setup) -> Outlet:
    """Open the sockets of a run; NetworkError when the interface asked for is not there, or has no IPv6."""
    controllers = setup.display.controllers
    chosen = find_interface(setup.interface) if setup.interface else None
    by_ipv6 = [controller for controller in controllers if is_by_ipv6(controller.address)]
    check_ipv6(by_ipv6, chosen)
    towards = [chosen] if chosen else _towards(controllers)
    by_ipv4 = [c for c in controllers if c.protocol is Protocol.E131 and c not in by_ipv6]
    is_broadcast = any(controller.address in broadcast_addresses() for controller in controllers)
    art_sync = {controller.address: controller for controller in controllers if controller.art_sync}
    broadcasts = {address: _broadcast_towards(art_sync[address], chosen) for address in sorted(art_sync)}
    discovery = _open_discovery(by_ipv4, chosen, setup.ttl)
    discovery_ipv6 = _open_discovery(by_ipv6, chosen, setup.ttl)
    signalled = [
        *_synchronization(by_ipv4, e131.multicast_group, discovery),
        *_synchronization(by_ipv6, e131.multicast_group_v6, discovery_ipv6),
        *(f"ArtSync by broadcast to {address}" for address in sorted({*broadcasts.values()})),
    ]
    return Outlet(
        open_sender(chosen, ttl=setup.ttl, broadcast=is_broadcast),
        discovery,
        ", ".join(sorted({_words(interface) for interface in towards})) or "no interface leads there",
        _open_broadcasts(broadcasts, chosen),
        discovery_ipv6,
        "; ".join(signalled),
        tuple(CarrierWatch(interface, time.monotonic) for interface in towards),
    )


def _synchronization(
    controllers: Iterable[Controller], group_of: Callable[[int], str], leads: Sequence[Sender]
) -> Iterator[str]:
    """Say where the synchronization packets for these go.

    ANSI E1.31-2018 clause 6.3.3.1: to the group alone, so also where all levels go to single addresses.
    """
    lost = "" if leads else ", which no interface leads to"
    addresses = {controller.sync_address for controller in controllers} - {e131.SYNC_ADDRESS_NONE}
    for address in sorted(addresses):
        yield f"universe {address}, by its group {group_of(address)}{lost}"


def _open_discovery(
    controllers: Collection[Controller], chosen: Interface | None, ttl: int
) -> tuple[Sender, ...]:
    """Open a sender by each interface that leads to these E1.31 controllers."""
    interfaces = [chosen] if chosen and controllers else _towards(controllers)
    return tuple(UdpSender(interface, ttl=ttl) for interface in interfaces)


def _open_broadcasts(addresses: Mapping[str, str], chosen: Interface | None) -> dict[str, Broadcast]:
    if not addresses:
        return {}
    sender = UdpSender(chosen, broadcast=True)
    return {controller: Broadcast(sender, address) for controller, address in addresses.items()}


def _broadcast_towards(controller: Controller, chosen: Interface | None) -> str:
    """Return the directed broadcast address of the network that a controller is in.

    Art-Net 4, ArtSync: never to a single node. Raises NetworkError when no network of ours holds it.
    """
    address = controller.address
    interface = chosen or interface_towards(address)
    why = "it is in no network of this machine's"
    for own in interface.addresses if interface else ():
        network = IPv4Interface(f"{own.address}/{own.netmask}").network
        if IPv4Address(address) in network or address == own.broadcast:
            if own.broadcast:
                return own.broadcast
            why = f"{interface.name if interface else network} is a line to it alone, which has no broadcast"
    raise NetworkError(
        f"{why}, and Art-Net sends ArtSync by broadcast only",
        controller_text(controller),
        "Leave synchronization out, or give this machine an address in the controller's network",
    )


def _towards(controllers: Iterable[Controller]) -> list[Interface]:
    """Return the interfaces by which the operating system would send to these controllers."""
    addresses = {ANY_GROUP.get(controller.address, controller.address) for controller in controllers}
    found = {interface.name: interface for address in addresses if (interface := interface_towards(address))}
    return [found[name] for name in sorted(found)]


def _words(interface: Interface) -> str:
    own = [*(ipv4.address for ipv4 in interface.addresses), *interface.ipv6_addresses]
    first = next(iter(own), "no address")
    warning = "" if interface.has_carrier is not False else ", NO CARRIER: check the cable"
    return f"{interface.name} ({first}{warning})"


def choices() -> tuple[str, ...]:
    """Return the interfaces that may be asked for, in words."""
    return tuple(_words(interface) for interface in list_interfaces())
