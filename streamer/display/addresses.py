"""Where a controller may be: what its address can be, and what is wrong with one that cannot be.

Host names are never looked up, and no interface is: that is the network's business.
"""

from ipaddress import AddressValueError, IPv4Address, IPv6Address
from typing import NamedTuple

from streamer.display.model import GROUPS, MULTICAST, MULTICAST_IPV6, Controller, Protocol
from streamer.display.places import plain, shown

UNICAST = "Write the number that the controller's own page shows, for example"
IPV4_EXAMPLE, BROADCAST_EXAMPLE, IPV6_EXAMPLE = "192.168.7.20", "192.168.7.255", "fd00:7::20"
OWN_GROUPS = "Each universe has its own group, so write"
LIMITED_BROADCAST = IPv4Address("255.255.255.255")
"""RFC 919 clause 7: every host on the local network."""


def is_by_ipv6(address: str) -> bool:
    """Whether a controller with this address is reached by IPv6."""
    return ":" in address or address == MULTICAST_IPV6


def controller_text(controller: Controller) -> str:
    """Return which controller is meant, by its name, unless it has none but its address, and its address."""
    name = "" if controller.name == controller.address else f"{plain(controller.name)} "
    return f"controller {name}at {controller.address}"


def canonical(address: str) -> str:
    """Return an IPv6 address as RFC 5952 writes it, in its one spelling; any other text as it is."""
    try:
        return str(IPv6Address(address))
    except AddressValueError:
        return address


class AddressFault(NamedTuple):
    """What is wrong with an address."""

    what: str
    instead: str
    """What to write; the address to write follows a colon."""
    address: str


def address_fault(address: str, protocol: Protocol) -> AddressFault | None:
    """Return what is wrong with a controller's address; None where nothing is."""
    is_artnet = protocol is Protocol.ARTNET
    if address in GROUPS:
        instead = f"{UNICAST}, or its network's broadcast address"
        what = "Art-Net is not sent to multicast groups"
        return AddressFault(what, instead, BROADCAST_EXAMPLE) if is_artnet else None
    if ":" not in address:
        return _fault_ipv4(address, is_artnet=is_artnet)
    if is_artnet:
        # The addresses in Art-Net 4's own packets have four octets.
        what = f"address is {shown(address)}, but Art-Net is sent over IPv4 only"
        return AddressFault(what, UNICAST, IPV4_EXAMPLE)
    return _fault_ipv6(address)


def _fault_ipv4(text: str, *, is_artnet: bool) -> AddressFault | None:
    try:
        address = IPv4Address(text)
    except AddressValueError:
        what = f"address is {shown(text)}, which is not an IPv4 address (host names are not looked up)"
        return AddressFault(what, UNICAST, IPV4_EXAMPLE)
    if address.is_multicast:
        what = f"address is the multicast group {address}"
        return (
            AddressFault(what, UNICAST, IPV4_EXAMPLE)
            if is_artnet
            else AddressFault(what, OWN_GROUPS, MULTICAST)
        )
    if address.is_unspecified or (address.is_reserved and address != LIMITED_BROADCAST):
        return AddressFault(f"address is {address}, where no controller can be", UNICAST, IPV4_EXAMPLE)
    return None


def _fault_ipv6(text: str) -> AddressFault | None:
    """RFC 4291 clause 2 for the kinds of address."""
    try:
        address = IPv6Address(text)
    except AddressValueError:
        what = f"address is {shown(text)}, which is not an IPv6 address"
        return AddressFault(what, UNICAST, IPV6_EXAMPLE)
    if address.is_multicast:
        return AddressFault(f"address is the multicast group {plain(text)}", OWN_GROUPS, MULTICAST_IPV6)
    if address.is_unspecified or not text.isprintable():
        return AddressFault(f"address is {plain(text)}, where no controller can be", UNICAST, IPV6_EXAMPLE)
    if address.ipv4_mapped:
        what = f"address is {text}, an IPv4 address written as one of IPv6"
        return AddressFault(what, "Write it as IPv4 does", str(address.ipv4_mapped))
    return _fault_of_zone(address)


def _fault_of_zone(address: IPv6Address) -> AddressFault | None:
    """RFC 4007 clauses 4 and 11: a link-local address may be on any interface, others say it themselves."""
    bare = str(address).partition("%")[0]
    if address.is_link_local and not address.scope_id:
        what = f"address is {bare}, which may be on any interface, and it is not said on which"
        return AddressFault(what, "Write the interface after it, for example", f"{bare}%eth0")
    if address.scope_id and not address.is_link_local:
        what = f"address is {address}, but only a link-local address (fe80::) takes an interface after it"
        return AddressFault(what, "Leave the interface out", bare)
    return None
