"""Sending many datagrams in one call: the kernel cuts a long one into packets (UDP segmentation offload).

Equal packets to one address go up to 64 at a time by one `sendmsg`; receivers get them as separate, whole
datagrams, for a fraction of what a `sendto` for each costs. Setting the option proves nothing: whether a
route can do it shows at the first send, so what is refused is sent again at once, one by one.
"""

import errno
import struct
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from streamer.net.destinations import LOOPBACK_PREFIX, Destination, is_multicast
from streamer.net.interfaces import Interface
from streamer.net.late_errors import errno_name, late_errors
from streamer.net.linux import IS_LINUX
from streamer.net.sender import DEFAULT_TTL, Sender, UdpSender

SOL_UDP = 17
UDP_SEGMENT = 103
"""linux/udp.h, since Linux 4.18: the length of each packet, as ancillary data of 16 bits."""
SEGMENT_LENGTH = struct.Struct("=H")
SEGMENTS_MAX = 64
"""UDP_MAX_SEGMENTS of kernels before 2024; later ones take 128."""
PAYLOAD_MAX_OCTETS = 65_507
"""RFC 768 and RFC 791: 65,535 less the headers; also of one long datagram before it is cut."""
CANNOT = frozenset({errno.EIO, errno.EINVAL, errno.ENOPROTOOPT, errno.EMSGSIZE, errno.EOPNOTSUPP})
"""How routes, drivers and old kernels say that they cannot cut."""
TRIES = 2
"""The first may be refused with the news of an earlier datagram: then nothing of it was sent."""
LAYOUTS_KEPT = 64
MOST_GROUPS_SHARE = 0.5
"""With fewer than two packets to an address, as with groups, there is nothing to put together."""

BY_OFFLOAD = "offload"
ONE_BY_ONE = "one by one"
Rows = NDArray[np.intp]


class OffloadSender(UdpSender):
    """Sends like `UdpSender`, but equal packets to one address many at a time, where the route can do it.

    The first packets to a host not met before are one alone: while its hardware address is asked for, the
    kernel keeps few packets and drops the rest without a word. The others follow with the next frame, so
    `send` must be called again with what has changed, as the cadence of E1.31 asks anyway.
    """

    def __init__(
        self, interface: Interface | None, ttl: int = DEFAULT_TTL, *, broadcast: bool = False
    ) -> None:
        super().__init__(interface, ttl, broadcast=broadcast)
        self._layouts: dict[int, tuple[Sequence[Destination], Rows, list[Destination]]] = {}
        self._met: set[Destination] = set()
        self._cannot: dict[Destination, str] = {}

    @property
    def ways(self) -> dict[str, str]:
        """How packets go to each address met: "offload", or "one by one" and why."""
        plain = {address: f"{ONE_BY_ONE}: {name}" for (address, _), name in self._cannot.items()}
        return {address: BY_OFFLOAD for address, _ in self._met} | plain

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """Send `packets[row]` to `destinations[row]` for each of `rows`; packets are (n, octets), C order."""
        if len(self._layout(destinations)[1]) > MOST_GROUPS_SHARE * len(destinations):
            super().send(packets, rows, destinations)
            return
        self._heal()
        for destination, together in self._groups(rows, destinations):
            if len(together) == 1 or is_multicast(destination[0]) or destination in self._cannot:
                self._send_singly(packets, together, destination)
            elif self._is_cold(destination):
                self._send(packets[together[0]].data, destination)
            else:
                self._send_together(packets, together, destination)

    def _groups(self, rows: Rows, destinations: Sequence[Destination]) -> Iterator[tuple[Destination, Rows]]:
        """Yield the rows of each destination, in order."""
        group_of_row, known = self._layout(destinations)
        groups = group_of_row[rows]
        if (groups == groups[:1]).all():
            yield from ((known[group], rows) for group in groups[:1].tolist())
            return
        order = np.argsort(groups, kind="stable")
        sorted_groups = groups[order]
        for piece in np.split(order, np.flatnonzero(np.diff(sorted_groups)) + 1):
            yield known[groups[piece[0]]], rows[piece]

    def _layout(self, destinations: Sequence[Destination]) -> tuple[Rows, list[Destination]]:
        """Return the group of each row and the groups' destinations, worked out once for each batch."""
        kept = self._layouts.get(id(destinations))
        if kept is None or kept[0] is not destinations:
            numbers: dict[Destination, int] = {}
            groups = np.array([numbers.setdefault(each, len(numbers)) for each in destinations], np.intp)
            if len(self._layouts) >= LAYOUTS_KEPT:
                self._layouts.clear()
            kept = self._layouts[id(destinations)] = destinations, groups, list(numbers)
        return kept[1], kept[2]

    def _is_cold(self, destination: Destination) -> bool:
        if destination in self._met:
            return False
        self._met.add(destination)
        return not destination[0].startswith(LOOPBACK_PREFIX)

    def _send_singly(self, packets: NDArray[np.uint8], rows: Rows, destination: Destination) -> None:
        for row in rows.tolist():
            self._send(packets[row].data, destination)

    def _send_together(self, packets: NDArray[np.uint8], rows: Rows, destination: Destination) -> None:
        length = packets.shape[1]
        most = min(SEGMENTS_MAX, PAYLOAD_MAX_OCTETS // length)
        for first in range(0, len(rows), most):
            piece = rows[first : first + most]
            refusal = self._send_piece(_contiguous(packets, piece), length, destination)
            if refusal in CANNOT:
                self._cannot[destination] = errno_name(refusal)
            if refusal:
                # Nothing of the piece has gone: singly, each is sent or its refusal counted.
                self._send_singly(packets, piece, destination)

    def _send_piece(self, octets: memoryview, length: int, destination: Destination) -> int:
        """Send packets of `length` octets each, and return the errno of a refusal, or 0."""
        sock = self._unpinned if destination[0].startswith(LOOPBACK_PREFIX) else self._pinned
        segments = [(SOL_UDP, UDP_SEGMENT, SEGMENT_LENGTH.pack(length))]
        for _ in range(TRIES):
            try:
                sent = sock.sendmsg([octets], segments, 0, destination)
            except OSError as error:
                refusal = error.errno or errno.EIO
            else:
                self.counters.packets += sent // length
                self.counters.octets += sent
                return 0
            earlier = late_errors(sock)
            for name, other in earlier:
                self._refused(name, other)
            if not earlier:
                break
        return refusal


def _contiguous(packets: NDArray[np.uint8], rows: Rows) -> memoryview:
    """Return the rows' octets in one piece: the matrix's own where the rows are neighbours."""
    first, last = int(rows[0]), int(rows[-1])
    if last - first == len(rows) - 1 and (np.diff(rows) == 1).all():
        return packets[first : last + 1].reshape(-1).data
    return packets[rows].reshape(-1).data


def open_sender(interface: Interface | None, ttl: int = DEFAULT_TTL, *, broadcast: bool = False) -> Sender:
    """Open the best sender that this system has; NetworkError when it cannot."""
    if IS_LINUX:
        return OffloadSender(interface, ttl, broadcast=broadcast)
    return UdpSender(interface, ttl, broadcast=broadcast)
