"""Where datagrams go: a numeric address as text, and a UDP port. Names are never looked up in here."""

Destination = tuple[str, int]
"""A dotted IPv4 or an IPv6 address (a host name would make a send wait for a name server) and a UDP port."""

LOOPBACK = "127.0.0.1"
LOOPBACK_PREFIX = "127."
"""RFC 1122 clause 3.2.1.3: 127.0.0.0/8 must not appear outside a host."""
LOOPBACK_BROADCAST = "127.255.255.255"
"""RFC 919 clause 7: every address of that network."""
LOOPBACK_IPV6 = "::1"
"""RFC 4291 clause 2.5.3."""
EVERY_ADDRESS = ""
"""Bind here to hear whatever reaches the port, by any of this machine's addresses."""
EVERY_ADDRESS_IPV6 = "::"
"""The same for IPv6, which has sockets of its own: RFC 4291 clause 2.5.2."""
ANYWHERE = "0.0.0.0"  # noqa: S104  nothing is bound to it
"""As the address of an interface: the system's choice."""
LIMITED_BROADCAST = "255.255.255.255"
"""RFC 919 clause 7: every host on the local network."""


MULTICAST_STARTS = frozenset(f"{first}." for first in range(224, 240))


def is_multicast(address: str) -> bool:
    """Whether a dotted IPv4 address is a group: RFC 1112 clause 4, 224.0.0.0 to 239.255.255.255."""
    return address[:4] in MULTICAST_STARTS


def is_ipv6(address: str) -> bool:
    """Whether a numeric address is one of IPv6: RFC 4291 clause 2.2, which always has a colon."""
    return ":" in address


def is_group(address: str) -> bool:
    """Whether a numeric address is a group: RFC 1112 clause 4, or RFC 4291 clause 2.7, ff00::/8."""
    return is_multicast(address) or (is_ipv6(address) and address[:2].lower() == "ff")


def is_loopback(address: str) -> bool:
    """Whether a numeric address never leaves this machine."""
    return address.startswith(LOOPBACK_PREFIX) or address == LOOPBACK_IPV6
