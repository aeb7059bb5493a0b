"""The sockets that a sender sends by: tied to the chosen interface or free, for IPv4 and for IPv6.

They are never bound, so that a change of address heals by itself; after the interface was deleted and made
again they are reopened by its name.
"""

import errno
import socket
from collections.abc import Callable
from contextlib import suppress
from typing import NamedTuple

from streamer.errors import NetworkError
from streamer.net.destinations import ANYWHERE, is_ipv6, is_loopback
from streamer.net.interfaces import Interface, find_interface
from streamer.net.late_errors import ask_for_late_errors
from streamer.net.linux import (
    INTERFACE_INDEX,
    IP_UNICAST_IF,
    IPV6_UNICAST_IF,
    IS_LINUX,
    MREQN,
    UNICAST_IF,
)
from streamer.net.zones import index_of, zone_of

SEND_BUFFER_OCTETS = 4 * 1024 * 1024
"""Room for a frame of thousands of universes; Linux gives no more than net.core.wmem_max."""
LOST = frozenset({"ENODEV", "EADDRNOTAVAIL", "ENETUNREACH"})
"""The interface, or its address, may be another one now: ip(7). IPv6 says ENETUNREACH of an old index."""
LOOK_EACH_S = 1.0
"""Without a refusal too: a sender that sends seldom would lose what finds it out."""


class Kind(NamedTuple):
    """Which socket an address needs."""

    is_ipv6: bool
    is_pinned: bool
    """A pinned socket would put loopback addresses on the cable."""
    has_zone: bool = False
    """The address says itself which interface it is on."""


def kind_of(address: str) -> Kind:
    """Return which socket a numeric address needs."""
    has_zone = bool(zone_of(address))
    return Kind(is_ipv6(address), not (has_zone or is_loopback(address)), has_zone)


class Outgoing:
    """Opens sockets, keeps them, and finds the interface again. Raises OSError when it cannot open one.

    Those of IPv6 are opened when first needed: a system may have IPv6 switched off.
    """

    def __init__(
        self, interface: Interface | None, ttl: int, clock: Callable[[], float], *, broadcast: bool
    ) -> None:
        self._interface = interface
        self._ttl = ttl
        self._clock = clock
        self._broadcast = broadcast
        self._is_suspect = self._needs_reopening = self._is_closed = False
        self._looked_s = clock()
        self._sockets: dict[Kind, socket.socket] = {}
        for is_pinned in (True, False):
            self.of(Kind(is_ipv6=False, is_pinned=is_pinned))

    def of(self, kind: Kind) -> socket.socket:
        """Return the socket of that kind."""
        sock = self._sockets.get(kind)
        if sock is None:
            if self._is_closed:
                raise OSError(errno.EBADF, "closed")
            sock = self._sockets[kind] = self._open(kind)
        return sock

    def to(self, address: str) -> socket.socket:
        """Return the socket by which that address is sent to."""
        return self.of(kind_of(address))

    def note(self, refusal: str) -> None:
        """Take note of an errno's name: some say that the interface must be looked for again."""
        self._is_suspect |= refusal in LOST
        # Elsewhere than on Linux groups are pinned to an address, which the index does not tell.
        self._needs_reopening |= refusal in LOST and not IS_LINUX

    def heal(self) -> bool:
        """Look for the interface by its name where that is due; say whether sockets were reopened."""
        if self._interface is None or self._is_closed or not self._is_another(self._interface):
            return False
        # While it is still down every packet is refused, counted and complained of anyway.
        with suppress(NetworkError, OSError):
            self._interface = find_interface(self._interface.name)
            for kind in [kind for kind in self._sockets if kind.is_pinned]:
                reopened = self._open(kind)
                self._sockets[kind].close()
                self._sockets[kind] = reopened
            self._needs_reopening = False
        return not self._needs_reopening

    def _is_another(self, interface: Interface) -> bool:
        """Say whether the name stands for another interface by now, that the sockets are not tied to."""
        now_s = self._clock()
        if self._is_suspect or now_s - self._looked_s >= LOOK_EACH_S:
            self._looked_s = now_s
            try:
                index = index_of(interface.name)
            except OSError:  # gone: it is looked for at each call until it is back
                self._is_suspect = True
                return False
            self._is_suspect = False
            self._needs_reopening |= index != interface.index
        return self._needs_reopening

    def close(self) -> None:
        """Close the sockets; calling it again does nothing."""
        self._is_closed = True
        for sock in self._sockets.values():
            sock.close()

    def _open(self, kind: Kind) -> socket.socket:
        sock = socket.socket(socket.AF_INET6 if kind.is_ipv6 else socket.AF_INET, socket.SOCK_DGRAM)
        try:
            sock.setblocking(False)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_OCTETS)
            (_set_up_ipv6 if kind.is_ipv6 else self._set_up_ipv4)(sock, self._ttl)
            ask_for_late_errors(sock)
            if kind.is_pinned and self._interface is not None:
                (_pin_ipv6 if kind.is_ipv6 else _pin_ipv4)(sock, self._interface)
        except OSError:
            sock.close()
            raise
        return sock

    def _set_up_ipv4(self, sock: socket.socket, ttl: int) -> None:
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, self._broadcast)
        sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, ttl)
        # A yard on this same machine must hear its groups.
        sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)


def _set_up_ipv6(sock: socket.socket, hops: int) -> None:
    sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
    sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_HOPS, hops)
    sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_LOOP, 1)


def _pin_ipv4(sock: socket.socket, interface: Interface) -> None:
    if IS_LINUX:
        # By index, not address: it goes on working when the interface gets another address.
        nowhere = socket.inet_aton(ANYWHERE)
        choice = MREQN.pack(nowhere, nowhere, interface.index)
        sock.setsockopt(socket.IPPROTO_IP, IP_UNICAST_IF, UNICAST_IF.pack(interface.index))
    elif interface.addresses:
        choice = socket.inet_aton(interface.addresses[0].address)
    else:
        raise OSError(errno.EADDRNOTAVAIL, "it has no IPv4 address")
    sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, choice)


def _pin_ipv6(sock: socket.socket, interface: Interface) -> None:
    index = INTERFACE_INDEX.pack(interface.index)
    sock.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_MULTICAST_IF, index)
    if IS_LINUX:
        choice = UNICAST_IF.pack(interface.index)
        sock.setsockopt(socket.IPPROTO_IPV6, IPV6_UNICAST_IF, choice)
