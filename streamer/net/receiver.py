"""Receiving datagrams: one bound socket, of IPv4 or of IPv6, that hears any number of groups."""

import socket
from collections.abc import Sequence
from typing import NamedTuple

from streamer.closing import Closes
from streamer.errors import NetworkError
from streamer.net.binding import bound_socket
from streamer.net.destinations import (
    EVERY_ADDRESS,
    EVERY_ADDRESS_IPV6,
    LOOPBACK,
    Destination,
    is_group,
    is_ipv6,
)
from streamer.net.interfaces import Interface
from streamer.net.linux import (
    IP_PKTINFO,
    IS_LINUX,
    MEMINFO,
    PKTINFO,
    PKTINFO_IPV6,
    SK_MEMINFO_DROPS,
    SO_MEMINFO,
)
from streamer.net.memberships import Memberships
from streamer.net.zones import destination_of, without_zone

BUFFER_OCTETS = 4 * 1024 * 1024
"""The usual default of 212,992 holds 166 packets of 638 octets on Linux; this holds a burst of thousands."""
LARGEST_DATAGRAM = 65_535
"""The IPv4 total length field has 16 bits: RFC 791 clause 3.1."""
ANCILLARY_OCTETS = 256


class Datagram(NamedTuple):
    """One datagram as it arrived."""

    payload: bytes
    source: Destination
    destination: str | None
    """Where it was sent to, a group for instance; None where the system does not tell (not Linux)."""


class UdpReceiver(Closes):
    """Hears a UDP port without waiting. Use it in `with`, or close it.

    `address` is what single hosts' datagrams must be sent to: 127.0.0.1 for a yard that only this machine
    can reach, "" for any address of this machine, broadcasts included. Given an IPv6 address or IPv6 groups
    it hears IPv6 and nothing else ("::" is any address of this machine). A socket bound to one address hears
    no group, so with `groups` the socket is bound to every address and what was sent to any other address
    or group is read and discarded here, counted in `strays`. So is, given an `interface`, what came in by
    another one; groups are joined on that interface, or where the system likes when it is None.

    The port is taken for ourselves unless `is_shared`: of two sockets that share a port both hear groups and
    broadcasts, but a datagram to a single host reaches only one of them, so a second program would silently
    take the first one's packets. Share it only to listen to groups beside another program.

    Raises NetworkError when the port is taken (it says by whom), or a group cannot be joined.
    """

    def __init__(  # noqa: PLR0913  each is a choice of the caller's
        self,
        port: int,
        address: str = LOOPBACK,
        groups: Sequence[str] = (),
        interface: Interface | None = None,
        buffer_octets: int = BUFFER_OCTETS,
        *,
        is_shared: bool = False,
    ) -> None:
        self.strays = 0
        """Datagrams discarded because of where they were sent to or came in."""
        self._address = address
        self._groups = frozenset(groups)
        self._interface = interface
        self._buffer = bytearray(LARGEST_DATAGRAM)
        by_ipv6 = is_ipv6(address) or any(map(is_ipv6, groups))
        every = EVERY_ADDRESS_IPV6 if by_ipv6 else EVERY_ADDRESS
        bind_to = every if groups else address
        self._socket = bound_socket(bind_to, port, buffer_octets, is_shared=is_shared)
        try:
            if IS_LINUX and by_ipv6:
                self._socket.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_RECVPKTINFO, 1)
            elif IS_LINUX:
                self._socket.setsockopt(socket.IPPROTO_IP, IP_PKTINFO, 1)
            self._memberships = Memberships(self._socket)
            self._memberships.join(self._groups, interface)
        except BaseException:
            self._socket.close()
            raise

    @property
    def port(self) -> int:
        """The port that it is bound to: the one asked for, or the system's choice for 0."""
        return int(self._socket.getsockname()[1])

    @property
    def buffer_octets(self) -> int:
        """The receive buffer as the system gave it; on Linux about half of it is bookkeeping."""
        return self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)

    @property
    def dropped(self) -> int:
        """Datagrams that the system dropped for want of buffer since the start; 0 where it does not tell."""
        if not IS_LINUX:
            return 0
        counted = self._socket.getsockopt(socket.SOL_SOCKET, SO_MEMINFO, MEMINFO.size)
        return int(MEMINFO.unpack(counted)[SK_MEMINFO_DROPS])

    def receive(self, limit: int) -> list[Datagram]:
        """Return what is waiting, oldest first, having read at most `limit` datagrams, strays included.

        Raises NetworkError when the system refuses to read.
        """
        heard: list[Datagram] = []
        for _ in range(limit):
            try:
                octets, ancillary, _, source = self._socket.recvmsg_into([self._buffer], ANCILLARY_OCTETS)
            except BlockingIOError:
                break
            except OSError as error:
                raise NetworkError(
                    f"cannot receive ({error.strerror})", "the receiving socket", "Start again"
                ) from error
            destination, index = _facts(ancillary)
            if self._is_wanted(destination, index):
                payload = bytes(self._buffer[:octets])
                heard.append(Datagram(payload, destination_of(source), destination))
            else:
                self.strays += 1
        return heard

    def fileno(self) -> int:
        """Return the file descriptor to wait for, in a selector; -1 when closed."""
        return self._socket.fileno()

    def close(self) -> None:
        """Leave the groups and free the port; calling it again does nothing."""
        self._memberships.leave()
        self._socket.close()

    def _is_wanted(self, destination: str | None, index: int | None) -> bool:
        if destination is None:
            return True
        if self._interface is not None and index != self._interface.index:
            return False
        if is_group(destination):
            # Linux hands a socket every group that any program of this machine has joined.
            return destination in self._groups
        return without_zone(self._address) in (EVERY_ADDRESS, EVERY_ADDRESS_IPV6, destination)


def _facts(ancillary: list[tuple[int, int, bytes]]) -> tuple[str | None, int | None]:
    """Return the destination of a datagram and the index of the interface that it came in by."""
    for level, kind, data in ancillary:
        if (level, kind) == (socket.IPPROTO_IP, IP_PKTINFO):
            index, _, address = PKTINFO.unpack(data)
            return socket.inet_ntoa(address), index
        if (level, kind) == (socket.IPPROTO_IPV6, socket.IPV6_PKTINFO):
            address, index = PKTINFO_IPV6.unpack(data)
            return socket.inet_ntop(socket.AF_INET6, address), index
    return None, None
