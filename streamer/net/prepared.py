"""Packets on the point of going: all is worked out by now, but for the system calls.

Asleep between frames, caches are cold, and each line of Python costs several times as much as right after
another: what can be done before the moment is done before.
"""

import socket
from collections.abc import Callable, Sequence
from functools import cache
from typing import TYPE_CHECKING, Protocol

from streamer.net.linux import SEGMENT_OCTETS, SOL_UDP, UDP_SEGMENT
from streamer.net.mailing import Dispatch, Mailing, Rows, Singles, Train
from streamer.net.outgoing import Kind
from streamer.net.zones import socket_name

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from streamer.net.destinations import Destination

Departure = Callable[[], None]
"""Sends what was prepared, each time it is called, and raises nothing when the operating system refuses."""
Piece = tuple["NDArray[np.uint8]", Rows, "Sequence[Destination]"]
"""Packets, (n, octets) in C order, which rows of them go, and where each row goes to."""


class Sending(Protocol):
    """What is asked of the sender that prepares."""

    disturbances: int
    """Grows with all that may change how packets should go."""

    def send(
        self, packets: "NDArray[np.uint8]", rows: Rows, destinations: "Sequence[Destination]", /
    ) -> None:
        """Send packets with nothing prepared."""

    def socket_for(self, kind: Kind) -> socket.socket:
        """Return the socket of a kind, or raise OSError."""

    def send_train(self, mailing: Mailing, train: Train, refusal: OSError | None = None) -> None:
        """Send a train; its first attempt may have been made already, and refused."""

    def send_singles(self, mailing: Mailing, singles: Singles) -> None:
        """Send packets each by itself."""

    def accepted(self, octets: int, packets: int) -> None:
        """Count packets that have gone."""


class Prepared:
    """A departure by as few lines as can be. Raises OSError when it cannot be prepared."""

    # In one piece of memory: looked up by name, each would be one more that is not in the cache.
    __slots__ = (
        "_calls",
        "_dispatch",
        "_disturbances",
        "_has_more",
        "_mailing",
        "_octets",
        "_packets",
        "_rows",
        "_sender",
        "_sendmsg",
    )

    def __init__(
        self, sender: Sending, sendmsg: Callable[..., int], mailing: Mailing, dispatch: Dispatch, rows: Rows
    ) -> None:
        self._sender = sender
        self._disturbances = sender.disturbances
        self._sendmsg = sendmsg
        self._mailing, self._dispatch, self._rows = mailing, dispatch, rows
        length = mailing.packets.shape[1]
        self._calls = tuple(
            (
                sender.socket_for(train.kind),
                (train.octets,),
                segments_of(length),
                0,
                socket_name(train.destination),
            )
            for train in dispatch.trains
        )
        self._packets = sum(len(train.rows) for train in dispatch.trains)
        self._octets = self._packets * length
        self._has_more = bool(dispatch.scattered or dispatch.singles)

    def __call__(self) -> None:
        """Send."""
        sender = self._sender
        if sender.disturbances != self._disturbances:
            sender.send(self._mailing.packets, self._rows, self._mailing.destinations)
            return
        if self._has_more:
            self._dispatch.gather(self._mailing.packets)
        sent = 0
        try:
            for call in self._calls:
                self._sendmsg(*call)
                sent += 1
        except OSError as error:
            self._go_on(sent, error)
        else:
            sender.accepted(self._octets, self._packets)
        if self._has_more:
            for singles in self._dispatch.singles:
                sender.send_singles(self._mailing, singles)

    def _go_on(self, sent: int, refusal: OSError) -> None:
        """Go on where a train was refused; those before it have gone."""
        trains, length = self._dispatch.trains, self._mailing.packets.shape[1]
        for train in trains[:sent]:
            self._sender.accepted(len(train.rows) * length, len(train.rows))
        self._sender.send_train(self._mailing, trains[sent], refusal)
        for train in trains[sent + 1 :]:
            self._sender.send_train(self._mailing, train)


@cache
def segments_of(length: int) -> tuple[tuple[int, int, bytes], ...]:
    """Return what tells the kernel to cut a datagram into packets of so many octets; the same for all."""
    return ((SOL_UDP, UDP_SEGMENT, SEGMENT_OCTETS.pack(length)),)
