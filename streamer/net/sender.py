"""Sending datagrams: the seam that an engine sends through, the real sender and a recording one.

A refusal by the operating system is counted and put into words, never raised from a send: a pulled cable
must not end a stream, and the stream must come back by itself.
"""

import errno
import socket
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from streamer.errors import NetworkError
from streamer.net.complaints import Accounts, SendCounters, error_sentence
from streamer.net.destinations import ANYWHERE, LOOPBACK_PREFIX, Destination
from streamer.net.interfaces import Interface, find_interface
from streamer.net.late_errors import ask_for_late_errors, errno_name, late_errors
from streamer.net.linux import IP_UNICAST_IF, IS_LINUX, MREQN, UNICAST_IF

__all__ = ["Packet", "RecordingSender", "SendCounters", "Sender", "UdpSender", "error_sentence"]

Packet = bytes | bytearray | memoryview

DEFAULT_TTL = 1
"""RFC 1112 clause 6.1: a group datagram stays on its own network unless asked otherwise."""
SEND_BUFFER_OCTETS = 4 * 1024 * 1024
"""Room for a frame of thousands of universes; Linux gives no more than net.core.wmem_max."""
HEALED_BY_REOPENING = frozenset({"ENODEV", "EADDRNOTAVAIL"})
"""The socket is tied to an interface, or an address of it, that is no more: ip(7)."""


class Sender(Protocol):
    """What an engine sends through. Nothing here raises when the operating system refuses."""

    @property
    def counters(self) -> SendCounters:
        """What has been sent and refused so far."""

    @property
    def last_error(self) -> str | None:
        """The latest refusal, as a sentence with what to do."""

    @property
    def ways(self) -> Mapping[str, str]:
        """How packets go to each address, where there is more to say than one by one."""

    def take_complaints(self) -> tuple[str, ...]:
        """Return the sentences not returned before; each distinct complaint comes once."""

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Send `packets[row]` to `destinations[row]` for each of `rows`; packets are (n, octets), C order."""

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Send a packet of its own length."""

    def close(self) -> None:
        """Release what is held; calling it again does nothing."""


class UdpSender(Accounts):
    """Sends IPv4 datagrams with plain sendto, out of one interface or, given None, wherever routes lead.

    The chosen interface carries groups (IP_MULTICAST_IF) and on Linux, without privilege, single hosts and
    broadcasts too (IP_UNICAST_IF): routes through other interfaces, a Wi-Fi uplink say, are not taken, and
    a host outside the interface's own networks is looked for on its wire. Loopback addresses are sent
    unpinned, because a pinned socket would put 127.0.0.1 on the cable. On other systems routes decide for
    single hosts.

    Sockets are not bound, so that a change of address heals by itself; after the interface was deleted and
    made again they are reopened by its name, at the next call.

    Broadcast addresses are refused (EACCES) unless `broadcast`. Raises NetworkError when the sockets
    cannot be made; sends raise nothing.
    """

    def __init__(
        self, interface: Interface | None, ttl: int = DEFAULT_TTL, *, broadcast: bool = False
    ) -> None:
        super().__init__()
        self._interface = interface
        self._ttl = ttl
        self._broadcast = broadcast
        self._needs_reopening = False
        try:
            self._pinned = self._open(interface)
            self._unpinned = self._open(None)
        except OSError as error:
            raise NetworkError(
                f"cannot open a socket ({error.strerror})", _where(interface), "Choose another interface"
            ) from error

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Send `packets[row]` to `destinations[row]` for each of `rows`; packets are (n, octets), C order."""
        self._heal()
        for row in rows.tolist():
            self._send(packets[row].data, destinations[row])

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Send a packet of its own length."""
        self._heal()
        self._send(packet, destination)

    def close(self) -> None:
        """Close the sockets; calling it again does nothing."""
        self._pinned.close()
        self._unpinned.close()

    def _send(self, packet: Packet, destination: Destination) -> None:
        sock = self._unpinned if destination[0].startswith(LOOPBACK_PREFIX) else self._pinned
        try:
            self._accepted(sock.sendto(packet, destination))
        except OSError as error:
            self._send_again(sock, packet, destination, errno_name(error.errno))

    def _send_again(
        self, sock: socket.socket, packet: Packet, destination: Destination, refusal: str
    ) -> None:
        """Try once more where the refusal was news of an earlier datagram: then this one was not sent."""
        earlier = late_errors(sock)
        for name, other in earlier:
            self._refused(name, other)
        if earlier:
            try:
                self._accepted(sock.sendto(packet, destination))
            except OSError as error:
                refusal = errno_name(error.errno)
            else:
                return
        self._refused(refusal, destination)
        self._needs_reopening |= refusal in HEALED_BY_REOPENING

    def _heal(self) -> None:
        """Look for the interface by name once a call, however many packets are refused meanwhile."""
        if not self._needs_reopening or self._interface is None:
            return
        # While it is still gone every packet is refused, counted and complained of anyway.
        with suppress(NetworkError, OSError):
            self._interface = find_interface(self._interface.name)
            pinned = self._open(self._interface)
            self._pinned.close()
            self._pinned = pinned
            self._needs_reopening = False

    def _open(self, pin: Interface | None) -> socket.socket:
        sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            sock.setblocking(False)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER_OCTETS)
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, self._broadcast)
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, self._ttl)
            # A yard on this same machine must hear its groups.
            sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
            ask_for_late_errors(sock)
            if pin is not None:
                _pin(sock, pin)
        except OSError:
            sock.close()
            raise
        return sock


class RecordingSender(Accounts):
    """Keeps what it is given, in order, as (octets, destination); for tests and for looking at packets."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: list[tuple[bytes, Destination]] = []
        self.failures: dict[Destination, int] = {}
        """The errno with which each of these destinations fails; empty it to let all through again."""
        self.is_closed = False

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Record `packets[row]` for `destinations[row]`, for each row of `rows`."""
        for row in rows.tolist():
            self.send_one(packets[row].tobytes(), destinations[row])

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Record a packet, unless its destination is to fail."""
        if destination in self.failures:
            self._refused(errno_name(self.failures[destination]), destination)
        else:
            self.sent.append((bytes(packet), destination))
            self._accepted(len(packet))

    def close(self) -> None:
        """Note that it was closed."""
        self.is_closed = True


def _pin(sock: socket.socket, interface: Interface) -> None:
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


def _where(interface: Interface | None) -> str:
    return "sending" if interface is None else f"interface {interface.name!r}"
