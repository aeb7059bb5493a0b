"""Datagrams as they arrived, many at once: rows of arrays, to be judged without a loop.

Rows are as wide as the longest packet that is read here; what a datagram has beyond that is cut off.
"""

import socket
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

ROW_OCTETS = 1152
"""A full page of universe discovery has 1144 (ANSI E1.31-2018 Table 4-3); a multiple of 8."""
NAME_OCTETS = 32
"""struct sockaddr_in6 has 28, sockaddr_in 16: ipv6(7), ip(7)."""
FAMILY = slice(0, 2)
IPV4_ADDRESS = slice(4, 8)
IPV6_ADDRESS = slice(8, 24)
ADDRESS_OCTETS = 16
IPV4_IN_IPV6 = bytes(10) + b"\xff\xff"
"""RFC 4291 clause 2.5.5.2: an IPv4 address as a socket of both versions sees it."""
ROWS_MAX = 512
"""Taken in one call: more of them no longer fit a core's cache."""


@dataclass(slots=True)
class Arrivals:
    """N datagrams, oldest first. The arrays are used again by the next reading."""

    octets: NDArray[np.uint8]
    """(N, ROW_OCTETS); beyond a datagram's end is what was there before."""
    lengths: NDArray[np.int64]
    """(N,): at most ROW_OCTETS."""
    names: NDArray[np.uint8]
    """(N, NAME_OCTETS): the senders' addresses as the system writes them, without port: `address_text`."""
    heard_s: NDArray[np.float64]
    """(N,): on the caller's steady clock, by the kernel's own stamps where there are any."""
    destinations: NDArray[np.uint8]
    """(N, 16): the address that each was sent to, IPv4 as in IPV4_IN_IPV6; zeros where not known."""
    ports: NDArray[np.uint16]
    """(N,): the port that each was sent from, high octet first in memory."""
    dropped: NDArray[np.int64]
    """(N,): how many datagrams of the socket this machine had dropped when each was queued; never falls."""

    def __len__(self) -> int:
        """Return N."""
        return len(self.lengths)

    def some(self, chosen: NDArray[np.bool_]) -> Self:
        """Return those that are chosen."""
        return type(self)(
            self.octets[chosen],
            self.lengths[chosen],
            self.names[chosen],
            self.heard_s[chosen],
            self.destinations[chosen],
            self.ports[chosen],
            self.dropped[chosen],
        )


def address_text(name: NDArray[np.uint8]) -> str:
    """Return a sender's address as text, IPv4 where it is one."""
    octets = name.tobytes()
    family = int.from_bytes(octets[FAMILY], "little" if np.little_endian else "big")
    if family == socket.AF_INET:
        return socket.inet_ntoa(octets[IPV4_ADDRESS])
    return _text(octets[IPV6_ADDRESS])


def destination_text(destination: NDArray[np.uint8]) -> str:
    """Return an address of `Arrivals.destinations` as text, "" where it is not known."""
    return _text(destination.tobytes()) if destination.any() else ""


def _text(address: bytes) -> str:
    """Return the sixteen octets of an address as text, IPv4 where it is one."""
    if address.startswith(IPV4_IN_IPV6):
        return socket.inet_ntoa(address[len(IPV4_IN_IPV6) :])
    return socket.inet_ntop(socket.AF_INET6, address)
