"""A sender that keeps in a capture whatever it hands to the one behind it."""

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from importlib.metadata import version
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from streamer.capture.datagram import Datagram
from streamer.capture.writing import CaptureWriter
from streamer.errors import CaptureError
from streamer.net.destinations import ANYWHERE, EVERY_ADDRESS_IPV6, Destination, is_ipv6
from streamer.net.interfaces import own_address_towards
from streamer.net.prepared import Departure, Piece
from streamer.net.sender import Packet, SendCounters, Sender
from streamer.net.zones import without_zone

OwnAddress = Callable[[str], str | None]
"""Returns the address that this machine has towards another one, None where nothing leads there."""
NOT_KNOWN = 0
"""As the port that it was sent from: the system chooses one."""


class KeptSender:
    """Sends through `behind`, and writes the same datagrams to a capture, refused ones too.

    It costs some 20 us a packet in the sender's own time. When the capture can no longer be written, that is
    one more complaint, and sending goes on without it.
    """

    def __init__(
        self, behind: Sender, writer: CaptureWriter, wall_ns: Callable[[], int], own_address: OwnAddress
    ) -> None:
        self._behind = behind
        self._writer: CaptureWriter | None = writer
        self._wall_ns = wall_ns
        self._own_address = own_address
        self._own: dict[str, str] = {}
        self._trouble: dict[str, int] = {}

    @property
    def counters(self) -> SendCounters:
        """See Sender."""
        return self._behind.counters

    @property
    def complaints(self) -> Mapping[str, int]:
        """See Sender."""
        return {**self._behind.complaints, **self._trouble} if self._trouble else self._behind.complaints

    @property
    def ways(self) -> Mapping[str, str]:
        """See Sender."""
        return self._behind.ways

    def send(
        self, packets: NDArray[np.uint8], rows: NDArray[np.intp], destinations: Sequence[Destination]
    ) -> None:
        """See Sender."""
        self._behind.send(packets, rows, destinations)
        now_ns = self._wall_ns()
        self._keep(self._datagram(packets[row].tobytes(), destinations[row], now_ns) for row in rows.tolist())

    def prepare(self, pieces: Sequence[Piece]) -> list[Departure]:
        """See Sender."""
        return [partial(self.send, *piece) for piece in pieces]

    def send_one(self, packet: Packet, destination: Destination) -> None:
        """See Sender."""
        self._behind.send_one(packet, destination)
        self._keep([self._datagram(bytes(packet), destination, self._wall_ns())])

    def close(self) -> None:
        """See Sender."""
        self._behind.close()
        if self._writer:
            self._writer.close()

    def _keep(self, datagrams: Iterable[Datagram]) -> None:
        if self._writer is None:
            return
        try:
            self._writer.write(datagrams)
        except CaptureError as error:
            self._trouble[str(error)] = 1
            self._writer.close()
            self._writer = None

    def _datagram(self, octets: bytes, to: Destination, now_ns: int) -> Datagram:
        address = without_zone(to[0])
        own = self._own.get(address)
        if own is None:
            nowhere = EVERY_ADDRESS_IPV6 if is_ipv6(address) else ANYWHERE
            own = self._own[address] = self._own_address(to[0]) or nowhere
        return Datagram(now_ns, (own, NOT_KNOWN), (address, to[1]), octets)


def keeper(path: Path, senders: Iterable[Sender], interface: str) -> dict[Sender, Sender]:
    """Return for each of these senders one that keeps what it sends in a new file. Raises CaptureError."""
    writer = CaptureWriter(path, f"Ropewalk {version('ropewalk')}", interface)
    return {each: KeptSender(each, writer, time.time_ns, own_address_towards) for each in senders}
