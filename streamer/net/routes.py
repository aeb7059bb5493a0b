"""How the system would send to an address or a group: by which interface, from where. Sends nothing."""

import socket
from dataclasses import dataclass

from streamer.net.destinations import is_group, is_ipv6, is_loopback
from streamer.net.interfaces import DISCARD_PORT, THIS_MACHINE, Interface, Machine, list_interfaces
from streamer.net.late_errors import errno_name
from streamer.net.linux import (
    INTERFACE_INDEX,
    IP_UNICAST_IF,
    IPV6_UNICAST_IF,
    IS_LINUX,
    MREQN,
    UNICAST_IF,
)
from streamer.net.zones import destination_of, socket_name, without_zone, zone_of

ANY_IPV4 = bytes(4)


@dataclass(frozen=True, slots=True)
class Route:
    """Where it leads: names are empty, and `refused` has the errno's name, where it leads nowhere."""

    interface: str = ""
    own: str = ""
    """This machine's address that would be sent from, without a zone."""
    refused: str = ""


def route_towards(address: str, interface: Interface | None, machine: Machine = THIS_MACHINE) -> Route:
    """Return the route to a numeric address, by that interface where one is given.

    As sending does, it leaves the choice to the system for loopback and for addresses with a zone.
    """
    pinned = None if is_loopback(address) or zone_of(address) else interface
    try:
        own = _own_towards(address, pinned)
    except OSError as error:
        return Route(refused=errno_name(error.errno))
    if pinned:
        return Route(pinned.name, without_zone(own))
    if zone_of(own):
        return Route(zone_of(own), without_zone(own))
    for each in list_interfaces(machine):
        if own in {*(ipv4.address for ipv4 in each.addresses), *each.ipv6_addresses}:
            return Route(each.name, own)
    return Route(own=own)


def _own_towards(address: str, interface: Interface | None) -> str:
    family = socket.AF_INET6 if is_ipv6(address) else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        if family == socket.AF_INET:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        if interface is not None and IS_LINUX:
            (_pin_ipv6 if is_ipv6(address) else _pin_ipv4)(probe, interface, to_group=is_group(address))
        # Connecting a UDP socket only looks up the route.
        probe.connect(socket_name((address, DISCARD_PORT)))
        return destination_of(probe.getsockname())[0]


def _pin_ipv4(probe: socket.socket, interface: Interface, *, to_group: bool) -> None:
    if to_group:
        choice = MREQN.pack(ANY_IPV4, ANY_IPV4, interface.index)
        probe.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, choice)
    else:
        probe.setsockopt(socket.IPPROTO_IP, IP_UNICAST_IF, UNICAST_IF.pack(interface.index))


def _pin_ipv6(probe: socket.socket, interface: Interface, *, to_group: bool) -> None:
    if to_group:
        index = INTERFACE_INDEX.pack(interface.index)
        probe.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, index)
    else:
        probe.setsockopt(socket.IPPROTO_IPV6, IPV6_UNICAST_IF, UNICAST_IF.pack(interface.index))
