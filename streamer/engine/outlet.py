"""Where a run's packets leave this machine: the sender for data, and those for universe discovery."""

import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv4Interface
from typing import NamedTuple

from streamer.display.model import MULTICAST, Controller, Protocol
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

ANY_GROUP = "239.255.0.1"
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
    """One by each interface that leads to an E1.31 controller; synchronization goes the same way."""
    words: str
    broadcasts: Mapping[str, Broadcast] = field(default_factory=dict)
    """By the address of an Art-Net controller: where an ArtSync for it goes."""
    synchronization: str = ""
    """Where synchronization packets go, in words; empty when there are none."""
    carriers: tuple[CarrierWatch, ...] = ()
    """One for each interface that packets leave by."""

    @property
    def senders(self) -> tuple[Sender, ...]:
        """All of them, each once, the one for data first."""
        return (self.data, *self.discovery, *dict.fromkeys(each.sender for each in self.broadcasts.values()))

    def errors(self) -> dict[str, int]:
        """Return the failed sends of all senders by the operating system's name for the error."""
        return dict(sum((Counter(sender.counters.errors) for sender in self.senders), Counter()))

    def close(self) -> None:
        """Close every socket."""
        for sender in self.senders:
            sender.close()


OpenOutlet = Callable[[Setup], Outlet]


def open_outlet(setup: Setup) -> Outlet:
    """Open the sockets of a run; NetworkError when the interface asked for is not there."""
    controllers = setup.display.controllers
    chosen = find_interface(setup.interface) if setup.interface else None
    towards = [chosen] if chosen else _towards(controllers)
    of_e131 = [controller for controller in controllers if controller.protocol is Protocol.E131]
    discovery = [chosen] if chosen and of_e131 else _towards(of_e131)
    is_broadcast = any(controller.address in broadcast_addresses() for controller in controllers)
    art_sync = frozenset(controller.address for controller in controllers if controller.art_sync)
    broadcasts = {address: _broadcast_towards(address, chosen) for address in sorted(art_sync)}
    return Outlet(
        open_sender(chosen, ttl=setup.ttl, broadcast=is_broadcast),
        tuple(UdpSender(interface, ttl=setup.ttl) for interface in discovery),
        ", ".join(sorted({_words(interface) for interface in towards})) or "no interface leads there",
        _open_broadcasts(broadcasts, chosen),
        _synchronization({controller.sync_address for controller in of_e131}, discovery, broadcasts),
        tuple(CarrierWatch(interface, time.monotonic) for interface in towards),
    )


def _synchronization(
    addresses: Iterable[int], leads: Sequence[Interface], broadcasts: Mapping[str, str]
) -> str:
    """Say where synchronization packets go.

    ANSI E1.31-2018 clause 6.3.3.1: to the group alone, so also where all levels go to single addresses.
    """
    lost = "" if leads else ", which no interface leads to"
    groups = [
        f"universe {address}, by its group {e131.multicast_group(address)}{lost}"
        for address in sorted(set(addresses) - {e131.SYNC_ADDRESS_NONE})
    ]
    return "; ".join(
        [*groups, *(f"ArtSync by broadcast to {each}" for each in sorted({*broadcasts.values()}))]
    )


def _open_broadcasts(addresses: Mapping[str, str], chosen: Interface | None) -> dict[str, Broadcast]:
    if not addresses:
        return {}
    sender = UdpSender(chosen, broadcast=True)
    return {controller: Broadcast(sender, address) for controller, address in addresses.items()}


def _broadcast_towards(address: str, chosen: Interface | None) -> str:
    """Return the directed broadcast address of the network that a controller is in.

    Art-Net 4, ArtSync: never to a single node. Raises NetworkError when no network of ours holds it.
    """
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
        f"controller at {address}",
        "Leave synchronization out, or give this machine an address in the controller's network",
    )


def _towards(controllers: Iterable[Controller]) -> list[Interface]:
    """Return the interfaces by which the operating system would send to these controllers."""
    addresses = {ANY_GROUP if c.address == MULTICAST else c.address for c in controllers}
    found = {interface.name: interface for address in addresses if (interface := interface_towards(address))}
    return [found[name] for name in sorted(found)]


def _words(interface: Interface) -> str:
    first = next((ipv4.address for ipv4 in interface.addresses), "no IPv4 address")
    warning = "" if interface.has_carrier is not False else ", NO CARRIER: check the cable"
    return f"{interface.name} ({first}{warning})"


def choices() -> tuple[str, ...]:
    """Return the interfaces that may be asked for, in words."""
    return tuple(_words(interface) for interface in list_interfaces())
