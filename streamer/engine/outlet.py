"""Where a run's packets leave this machine: the sender for data, and those for universe discovery."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from streamer.display.model import MULTICAST, Controller, Protocol
from streamer.engine.messages import Setup
from streamer.net.batched import open_sender
from streamer.net.interfaces import (
    Interface,
    broadcast_addresses,
    find_interface,
    interface_towards,
    list_interfaces,
)
from streamer.net.sender import Sender, UdpSender

ANY_GROUP = "239.255.0.1"
"""Stands for all groups when asking which interface the operating system would choose."""


@dataclass(frozen=True, slots=True)
class Outlet:
    """The senders of a run, and how they leave in words."""

    data: Sender
    discovery: tuple[Sender, ...]
    words: str

    @property
    def _senders(self) -> tuple[Sender, ...]:
        return (self.data, *self.discovery)

    @property
    def last_error(self) -> str:
        """The latest refusal in words, the data's before discovery's; empty when there was none."""
        return next((sender.last_error for sender in self._senders if sender.last_error), "")

    def errors(self) -> dict[str, int]:
        """Return the failed sends of all senders by the operating system's name for the error."""
        return dict(sum((Counter(sender.counters.errors) for sender in self._senders), Counter()))

    def close(self) -> None:
        """Close every socket."""
        for sender in self._senders:
            sender.close()


OpenOutlet = Callable[[Setup], Outlet]


def open_outlet(setup: Setup) -> Outlet:
    """Open the sockets of a run; NetworkError when the interface asked for is not there."""
    controllers = setup.display.controllers
    chosen = find_interface(setup.interface) if setup.interface else None
    towards = [chosen] if chosen else _towards(controllers)
    e131 = [controller for controller in controllers if controller.protocol is Protocol.E131]
    discovery = [chosen] if chosen and e131 else _towards(e131)
    is_broadcast = any(controller.address in broadcast_addresses() for controller in controllers)
    return Outlet(
        open_sender(chosen, ttl=setup.ttl, broadcast=is_broadcast),
        tuple(UdpSender(interface, ttl=setup.ttl) for interface in discovery),
        ", ".join(sorted({_words(interface) for interface in towards})) or "no interface leads there",
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
