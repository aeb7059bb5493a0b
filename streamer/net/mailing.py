"""What is worked out once for a batch of packets, and for each choice of its rows, so that sending is quick.

A mailing is the batch and where each of its rows goes; a dispatch is one choice of its rows, cut up by the
calls that send them. Only arithmetic and memory: no system call is made here.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from streamer.net.destinations import Destination
from streamer.net.hosts import NEVER_S, NEVER_WARM, Hosts, Warm
from streamer.net.mmsg import Messages, MessageTable
from streamer.net.outgoing import Kind, kind_of

Rows = NDArray[np.intp]
SEGMENTS_MAX = 64
"""UDP_MAX_SEGMENTS of Linux before 2024; later ones take 128."""
PAYLOAD_MAX_OCTETS = 65_507
"""RFC 768 and RFC 791: 65,535 less the headers; also of one long datagram before it is cut."""
KINDS = [
    *(Kind(is_ipv6, is_pinned) for is_ipv6 in (False, True) for is_pinned in (False, True)),
    Kind(is_ipv6=True, is_pinned=False, has_zone=True),
]
IsTogether = Callable[[Destination], bool]
"""Whether many packets to a destination are to go by one call."""
DISPATCHES_KEPT = 128
MAILINGS_KEPT = 512
UNUSED_S = 10.0
"""Every stream is kept alive each second, so what has rested for longer belongs to a run that is over."""


@dataclass(frozen=True, slots=True)
class Train:
    """Packets that go to one address by one call."""

    destination: Destination
    kind: Kind
    rows: Rows
    octets: memoryview
    """All of them, one after another: in the matrix itself, or where `Dispatch.gather` puts them."""


@dataclass(frozen=True, slots=True)
class Singles:
    """Packets that go each by itself, by one socket."""

    kind: Kind
    rows: Rows
    messages: Messages
    address: int
    """Of the messages, in memory."""


@dataclass(slots=True)
class Dispatch:
    """How one choice of rows is sent."""

    trains: list[Train] = field(default_factory=list)
    singles: list[Singles] = field(default_factory=list)
    scattered: list[tuple[Rows, NDArray[np.uint8]]] = field(default_factory=list)
    """Rows that are not side by side in the matrix, and where they are put side by side."""
    warm: Warm = NEVER_WARM
    """The latest proof that none of it has to wait."""
    departure: Callable[[], None] | None = None
    """What sends it, prepared."""
    disturbances: int = 0
    """How often ways had changed when that was prepared."""

    def gather(self, packets: NDArray[np.uint8]) -> None:
        """Put side by side what is not so in the matrix, as it is now."""
        for rows, into in self.scattered:
            packets.take(rows, axis=0, out=into, mode="clip")

    def let_go(self) -> None:
        """Forget what was prepared, which holds on to this: an engine never collects such garbage."""
        self.departure = None


class Mailing:
    """A matrix of packets and the destinations of its rows."""

    def __init__(
        self,
        packets: NDArray[np.uint8],
        destinations: Sequence[Destination],
        hosts: Hosts,
        is_together: IsTogether,
    ) -> None:
        if not packets.flags.c_contiguous:
            raise ValueError("the packets must lie one after another in memory")
        self.packets = packets
        self.destinations = destinations
        self._is_together = is_together
        self.used_s = NEVER_S
        numbers: dict[Destination, int] = {}
        self._group_of_row = np.array(
            [numbers.setdefault(each, len(numbers)) for each in destinations], np.intp
        )
        self._known = list(numbers)
        counts = np.bincount(self._group_of_row)
        self.alone = dict(zip(self._known, (counts == 1).tolist(), strict=True))
        """Whether no more than one packet goes to each destination."""
        self.host_of_row = self._by_row([hosts.number_of(address) for address, _ in self._known])
        self._kind_of_row = self._by_row([KINDS.index(kind_of(address)) for address, _ in self._known])
        self._table: MessageTable | None = None
        self._scratch: NDArray[np.uint8] | None = None
        self._dispatches: dict[bytes, Dispatch] = {}

    def _by_row(self, by_group: Sequence[int]) -> NDArray[np.intp]:
        return np.array(by_group, np.intp)[self._group_of_row]

    def dispatch(self, rows: Rows) -> Dispatch:
        """Return how to send these rows."""
        key = rows.tobytes()
        kept = self._dispatches.get(key)
        if kept is None:
            while len(self._dispatches) >= DISPATCHES_KEPT:
                self._dispatches.pop(next(iter(self._dispatches))).let_go()
            kept = self._dispatches[key] = self._dispatch(rows)
        return kept

    def forget_dispatches(self) -> None:
        """Make every dispatch anew, if any: what may go together has changed, or this is over."""
        for dispatch in self._dispatches.values():
            dispatch.let_go()
        self._dispatches.clear()

    def singles(self, rows: Rows) -> list[Singles]:
        """Return how to send these rows each by itself."""
        kinds = self._kind_of_row[rows]
        return [self._singles_of(KINDS[kind], rows[kinds == kind]) for kind in np.unique(kinds)]

    def _singles_of(self, kind: Kind, rows: Rows) -> Singles:
        self._table = self._table or MessageTable(self.packets, self.destinations)
        messages = self._table.messages[rows]
        return Singles(kind, rows, messages, messages.ctypes.data)

    def _dispatch(self, rows: Rows) -> Dispatch:
        dispatch, alone = Dispatch(), []
        groups = self._group_of_row[rows]
        order = np.argsort(groups, kind="stable")
        firsts = np.flatnonzero(np.diff(groups[order])) + 1
        if len(firsts) + 1 == len(rows):
            dispatch.singles = self.singles(rows)
            return dispatch
        for piece in np.split(order, firsts):
            destination = self._known[groups[piece[0]]]
            if len(piece) > 1 and self._is_together(destination):
                self._add_trains(dispatch, rows[piece], destination)
            else:
                alone.append(rows[piece])
        if alone:
            dispatch.singles = self.singles(np.concatenate(alone))
        return dispatch

    def _add_trains(self, dispatch: Dispatch, rows: Rows, destination: Destination) -> None:
        kind = kind_of(destination[0])
        most = min(SEGMENTS_MAX, PAYLOAD_MAX_OCTETS // self.packets.shape[1])
        for first in range(0, len(rows), most):
            piece = rows[first : first + most]
            dispatch.trains.append(Train(destination, kind, piece, self._octets(dispatch, piece)))

    def _octets(self, dispatch: Dispatch, rows: Rows) -> memoryview:
        first, last = int(rows[0]), int(rows[-1])
        if last - first == len(rows) - 1 and (np.diff(rows) == 1).all():
            return self.packets[first : last + 1].reshape(-1).data
        if self._scratch is None:
            self._scratch = np.empty_like(self.packets)
        begin = sum(len(into) for _, into in dispatch.scattered)
        into = self._scratch[begin : begin + len(rows)]
        dispatch.scattered.append((rows, into))
        return into.reshape(-1).data


class Mailings:
    """The mailings in use, found by the very objects that the caller passes each time.

    A mailing holds on to both objects, so that no others can come by their identities while it is kept.
    """

    def __init__(self, hosts: Hosts, is_together: IsTogether) -> None:
        self._hosts = hosts
        self._is_together = is_together
        self._kept: dict[tuple[int, int], Mailing] = {}
        self.changes = 0
        """Grows when one is made."""

    def __iter__(self) -> Iterator[Mailing]:
        return iter(self._kept.values())

    def of(self, packets: NDArray[np.uint8], destinations: Sequence[Destination], now_s: float) -> Mailing:
        """Return the mailing of these; for a list, which may change under us, it is made each time."""
        if not isinstance(destinations, tuple):
            return self._make(packets, destinations)
        key = id(packets), id(destinations)
        kept = self._kept.get(key)
        if kept is None:
            self._make_room(now_s)
            self.changes += 1
            kept = self._kept[key] = self._make(packets, destinations)
        kept.used_s = now_s
        return kept

    def forget_dispatches(self) -> None:
        """Make every dispatch anew: what may go together has changed."""
        for mailing in self:
            mailing.forget_dispatches()

    def _make(self, packets: NDArray[np.uint8], destinations: Sequence[Destination]) -> Mailing:
        return Mailing(packets, destinations, self._hosts, self._is_together)

    def _make_room(self, now_s: float) -> None:
        for key in [key for key, each in self._kept.items() if now_s - each.used_s > UNUSED_S]:
            self._kept.pop(key).forget_dispatches()
        while len(self._kept) >= MAILINGS_KEPT:
            self._kept.pop(next(iter(self._kept))).forget_dispatches()
