"""Which interface a controller is meant to be reached by, and what an address beside it would be."""

from collections.abc import Iterable, Sequence
from ipaddress import IPv4Address, IPv4Interface, ip_address

from streamer.net.destinations import LIMITED_BROADCAST, is_ipv6
from streamer.net.interfaces import Interface, Ipv4

USUAL_PREFIX = 24
"""Of a network at home: common practice, no source."""
LINK_LOCAL = "169.254."
"""RFC 3927: an address that a machine gives itself where nobody else gives it one."""


def networks_text(interface: Interface) -> str:
    """Return the IPv4 addresses of an interface with their prefixes, "10.61.0.1/24"; else those of IPv6."""
    own = [str(_network(each)) for each in interface.addresses]
    return ", ".join(own or interface.ipv6_addresses) or "no address"


def holds(interface: Interface, address: str) -> bool:
    """Whether an IPv4 address is in one of an interface's networks, or means everybody there."""
    if is_ipv6(address):
        return False
    return any(IPv4Address(address) in _network(each).network for each in interface.addresses) or (
        address == LIMITED_BROADCAST and bool(interface.addresses)
    )


def is_own(interfaces: Iterable[Interface], address: str) -> bool:
    """Whether an address is one of this machine's own."""
    wanted = ip_address(address)
    return any(
        wanted == ip_address(own)
        for each in interfaces
        for own in (*(ipv4.address for ipv4 in each.addresses), *each.ipv6_addresses)
    )


def holders(interfaces: Iterable[Interface], address: str) -> tuple[Interface, ...]:
    """Return the interfaces in whose networks an address is, loopback left out, whatever their state."""
    return tuple(each for each in interfaces if not each.is_loopback and holds(each, address))


def usable(interfaces: Iterable[Interface]) -> tuple[Interface, ...]:
    """Return those that could carry levels to a yard: up, with a cable and an address."""
    return tuple(
        each
        for each in interfaces
        if not each.is_loopback
        and each.is_up
        and each.has_carrier is not False
        and (each.addresses or each.ipv6_addresses)
    )


def beside(address: str, taken: Sequence[str] = ()) -> str:
    """Return an address in the usual network of another one, with its prefix, to be an example."""
    network = IPv4Interface(f"{address}/{USUAL_PREFIX}").network
    others = {address, *taken}
    free = next(str(each) for each in network.hosts() if str(each) not in others)
    return f"{free}/{USUAL_PREFIX}"


def _network(own: Ipv4) -> IPv4Interface:
    return IPv4Interface(f"{own.address}/{own.netmask}")
