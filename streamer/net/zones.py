"""Which interface an IPv6 address is on, where the address alone does not say: fe80::1%eth0, RFC 4007.

A zone is held by the interface's name and looked up at each use, because an interface that was deleted and
made again has another index.
"""

import errno
import socket

from streamer.net.destinations import Destination

ZONE_SIGN = "%"
"""RFC 4007 clause 11.2."""
NO_FLOW = NO_SCOPE = 0

SocketName = Destination | tuple[str, int, int, int]
"""As Python's sockets take and give it: address and port; for IPv6 flow information and scope as well."""


def zone_of(address: str) -> str:
    """Return the name of the interface that an address is said to be on, empty where none is."""
    return address.partition(ZONE_SIGN)[2]


def without_zone(address: str) -> str:
    """Return an address by itself."""
    return address.partition(ZONE_SIGN)[0]


def index_of(name: str) -> int:
    """Return the index of an interface as it is now. Raises OSError, ENODEV, where there is none."""
    try:
        return socket.if_nametoindex(name)
    except OSError as error:  # without an errno
        raise OSError(errno.ENODEV, "there is no such interface") from error


def socket_name(destination: Destination) -> SocketName:
    """Return a destination as `sendto` takes it. Raises OSError, ENODEV, when its zone is not there."""
    zone = zone_of(destination[0])
    if not zone:
        return destination
    return without_zone(destination[0]), destination[1], NO_FLOW, index_of(zone)


def destination_of(name: SocketName) -> Destination:
    """Return what a socket gave as an address, with the zone that it came with."""
    address, port, *rest = name
    scope = rest[1] if rest else NO_SCOPE
    if scope == NO_SCOPE or ZONE_SIGN in address:
        return address, port
    try:
        return f"{address}{ZONE_SIGN}{socket.if_indextoname(scope)}", port
    except OSError:  # it is gone since
        return address, port
