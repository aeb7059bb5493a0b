"""Sending datagrams: the seam that an engine sends through, the real sender and a recording one.

A refusal by the operating system is counted and put into words, never raised from a send: a pulled cable
must not end a stream, and the stream must come back by itself.
"""

import socket
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from streamer.errors import NetworkError
from streamer.net.carrier import CarrierWatch
from streamer.net.complaints import Accounts, SendCounters, error_sentence
from streamer.net.destinations import Destination
from streamer.net.interfaces import Interface
from streamer.net.late_errors import errno_name, late_errors
from streamer.net.outgoing import Outgoing
from streamer.net.prepared import Departure, Piece
from streamer.net.zones import socket_name

__all__ = ["Packet", "RecordingSender", "SendCounters", "Sender", "UdpSender", "error_sentence"]

Packet = bytes | bytearray | memoryview

DEFAULT_TTL = 1
"""RFC 1112 clause 6.1: a group datagram stays on its own network unless asked otherwise."""


class Sender(Protocol):
    """What an engine sends through. Nothing here raises when the operating system refuses."""

    @property
    def counters(self) -> SendCounters:
        """What has been sent and refused so far."""

    @property
    def complaints(self) -> Mapping[str, int]:
        """How many packets were refused so far, by what is wrong as a sentence with what to do."""

    @property
    def ways(self) -> Mapping[str, str]:
        """How packets go to each address: one of `streamer.net.ways.Way`, and why by no better one.

        Empty for a sender that has only one way.
        """

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Send `packets[row]` to `destinations[row]` for each of `rows`; packets are (n, octets), C order."""

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """Return what sends each of these as `send` does, as it is when that is called, within seconds."""

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Send a packet of its own length."""

    def close(self) -> None:
        """Release what is held; calling it again does nothing."""


class UdpSender(Accounts):
    """Sends datagrams with plain sendto, out of one interface or, given None, wherever routes lead.

    The chosen interface carries groups (IP_MULTICAST_IF) and on Linux, without privilege, single hosts and
    broadcasts too (IP_UNICAST_IF): routes through other interfaces, a Wi-Fi uplink say, are not taken, and
    a host outside the interface's own networks is looked for on its wire. Loopback addresses are sent
    unpinned, because a pinned socket would put 127.0.0.1 on the cable. On other systems routes decide for
    single hosts. IPv6 addresses go the same ways.

    Broadcast addresses are refused (EACCES) unless `broadcast`. Raises NetworkError when the sockets
    cannot be made; sends raise nothing.
    """

    def __init__(
        self,
        interface: Interface | None,
        ttl: int = DEFAULT_TTL,
        *,
        broadcast: bool = False,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__()
        self._carrier = CarrierWatch(interface, clock)
        try:
            self._outgoing = Outgoing(interface, ttl, clock, broadcast=broadcast)
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

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """Return what sends each of these as `send` does."""
        return [partial(self.send, *piece) for piece in pieces]

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Send a packet of its own length."""
        self._heal()
        self._send(packet, destination)

    def close(self) -> None:
        """Close the sockets; calling it again does nothing."""
        self._outgoing.close()

    def _heal(self) -> None:
        """Look for the interface by name once a call at most, however many packets are refused meanwhile."""
        self._outgoing.heal()

    def _send(self, packet: Packet, destination: Destination) -> None:
        try:
            sock, name = self._outgoing.to(destination[0]), socket_name(destination)
        except OSError as error:
            self._refused(errno_name(error.errno), destination)
            return
        try:
            self.accepted(sock.sendto(packet, name))
        except OSError as error:
            self._send_again(sock, packet, destination, errno_name(error.errno))

    def _send_again(
        self, sock: socket.socket, packet: Packet, destination: Destination, refusal: str
    ) -> None:
        """Try once more where the refusal was news of an earlier datagram: then this one was not sent."""
        if self._take_late_errors(sock):
            try:
                self.accepted(sock.sendto(packet, socket_name(destination)))
            except OSError as error:
                refusal = errno_name(error.errno)
            else:
                return
        self._refused(refusal, destination)

    def _take_late_errors(self, sock: socket.socket) -> bool:
        """Count what came back for earlier datagrams, and say whether anything did."""
        earlier = late_errors(sock)
        for name, other in earlier:
            self._refused(name, other)
        return bool(earlier)

    def _refused(self, errno_name: str, destination: Destination, packets: int = 1) -> None:
        super()._refused(errno_name, destination, packets)
        self._outgoing.note(errno_name)


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

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """Return what sends each of these as `send` does."""
        return [partial(self.send, *piece) for piece in pieces]

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """Record a packet, unless its destination is to fail."""
        if destination in self.failures:
            self._refused(errno_name(self.failures[destination]), destination)
        else:
            self.sent.append((bytes(packet), destination))
            self.accepted(len(packet))

    def close(self) -> None:
        """Note that it was closed."""
        self.is_closed = True


def _where(interface: Interface | None) -> str:
    return "sending" if interface is None else f"interface {interface.name!r}"
