"""The listener's sockets and the clock they are read by."""

import select
import time
from collections.abc import Callable, Iterable, Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.display.ranges import UNIVERSES_LIMIT
from streamer.errors import NetworkError
from streamer.hear.messages import Heard, SocketHeard
from streamer.hear.table import Table
from streamer.net.arrivals import Arrivals
from streamer.net.interfaces import Interface
from streamer.net.listener import BUFFER_OCTETS, Listener, Moment
from streamer.wire import artnet, e131
from streamer.wire.acn import CID_OCTET

PORTS = {Protocol.E131: e131.PORT, Protocol.ARTNET: artnet.PORT}
NAP_S = 0.010
"""Datagrams may gather for so long: the kernel has stamped them, and many cost little more than few."""
CHARGE_OCTETS = 1_280
"""What the kernel counts for a datagram of 638 octets in a buffer; measured on Linux 6.18."""
FILL_SHARE = 0.125
"""Which part of the buffer may fill during a nap."""
JOINED_MAX = 2 * UNIVERSES_LIMIT
"""Groups no longer wanted are left when there are more: to leave and join again is a gap in the others."""
TURN_S = 0.05
"""The longest wait: a signal and a client are noticed within this time."""
READS_MAX = 32
"""In one turn: whatever comes, signals and clients are served in between."""

Tap = Callable[[Protocol, Arrivals, Moment], None]
"""Is called with all that is read; what it is given holds until it returns."""


@dataclass(slots=True)
class Ears:
    """The sockets of a table, one a protocol, and the groups that they have joined."""

    table: Table
    interface: Interface | None
    joined_by: tuple[Interface, ...] = ()
    """Where no interface is chosen, groups are joined on each of these; without any the system chooses."""
    buffer_octets: int = BUFFER_OCTETS
    """Asked for."""
    beside: Mapping[Protocol, str] = field(default_factory=dict)
    """Who else holds the ports, in words."""
    listeners: dict[Protocol, Listener] = field(default_factory=dict)
    troubles: list[str] = field(default_factory=list)
    """What cannot be heard, and why, in words."""
    tap: Tap | None = None
    _joined: frozenset[int] = frozenset()
    _joined_ipv6: frozenset[int] = frozenset()
    _without_ipv6: str = ""
    _nap_s: float = NAP_S
    _polled_s: float = 0.0

    def open(
        self, stack: ExitStack, protocols: Iterable[Protocol], ports: Mapping[Protocol, int] = PORTS
    ) -> None:
        """Open the sockets; they are closed with the stack. Raises NetworkError where none can be had."""
        wanted = tuple(protocols)
        for protocol in wanted:
            try:
                listener = Listener(
                    ports[protocol], self.interface, self.buffer_octets, joined_by=self.joined_by
                )
            except NetworkError as error:
                self.troubles.append(f"{PROTOCOL_NAME[protocol]} is not heard. {error}")
                # From here: under another name, to be raised after the loop, its own traceback would hold it.
                if protocol is wanted[-1] and not self.listeners:
                    raise
            else:
                self.listeners[protocol] = stack.enter_context(listener)
        self.join(time.monotonic())

    def join(self, now: float) -> None:
        """Be a member of the groups of what is asked for, and of what is announced where that is wanted.

        Where groups of IPv6 cannot be joined, those of IPv4 are heard without them.
        """
        listener = self.listeners.get(Protocol.E131)
        if listener is None:
            return
        wanted = self.table.asked(Protocol.E131)
        if self.table.discover:
            announced = sorted(self.table.announced(now) - wanted)
            wanted |= frozenset(announced[: UNIVERSES_LIMIT - len(wanted)])
        wanted |= {e131.DISCOVERY_UNIVERSE}
        if len(self._joined | wanted) > JOINED_MAX:
            listener.join(())
            self._joined = self._joined_ipv6 = frozenset()
        listener.join_more(e131.multicast_group(universe) for universe in wanted - self._joined)
        self._joined |= wanted
        if listener.hears_ipv6 and not self._without_ipv6:
            self._join_ipv6(listener, wanted)

    def _join_ipv6(self, listener: Listener, wanted: frozenset[int]) -> None:
        try:
            listener.join_more(e131.multicast_group_v6(universe) for universe in wanted - self._joined_ipv6)
            self._joined_ipv6 |= wanted
        except NetworkError as error:
            self._without_ipv6, self._joined_ipv6 = str(error), frozenset()

    def ignore(self, cid: UUID | None) -> None:
        """Pass over what carries a CID, where the kernel can; over nothing with None."""
        listener = self.listeners.get(Protocol.E131)
        if listener is None:
            return
        if cid is None:
            listener.ignore_nothing()
        else:
            listener.ignore(CID_OCTET, cid.bytes)

    def wait(self, others: Iterable[int] = ()) -> None:
        """Wait until there is something to read, and let it gather for a moment."""
        filenos = [*(each.fileno() for each in self.listeners.values()), *others]
        if select.select(filenos, [], [], TURN_S)[0]:
            time.sleep(self._nap_s)

    def poll(self) -> None:
        """Take in what waits."""
        now = time.monotonic()
        passed_s, self._polled_s = now - self._polled_s, now
        self._nap_s = min(self._drain(protocol, passed_s) for protocol in self.listeners)

    def _drain(self, protocol: Protocol, passed_s: float) -> float:
        """Take in what waits for one protocol, and return how long the next may gather."""
        listener, taken = self.listeners[protocol], 0
        for _ in range(READS_MAX):
            moment = Moment(time.monotonic(), time.time_ns())
            arrivals = listener.read(moment)
            if self.tap:
                self.tap(protocol, arrivals, moment)
            self.table.take(protocol, arrivals, moment.now_s)
            taken += len(arrivals)
            if not listener.has_more:
                break
        room = FILL_SHARE * listener.buffer_octets / CHARGE_OCTETS
        return min(NAP_S, room * passed_s / max(taken, 1))

    def heard(self, now: float) -> Heard:
        """Return all that is heard by now."""
        return self.table.heard(self.sockets(), now, self.troubles)

    def sockets(self) -> list[SocketHeard]:
        """Return what the sockets have to say of themselves."""
        return [self._socket(protocol, listener) for protocol, listener in self.listeners.items()]

    def _socket(self, protocol: Protocol, listener: Listener) -> SocketHeard:
        book = self.table.books[protocol]
        return SocketHeard(
            protocol=protocol,
            port=listener.port,
            groups=len(self._joined) if protocol is Protocol.E131 else 0,
            groups_ipv6=len(self._joined_ipv6) if protocol is Protocol.E131 else 0,
            without_ipv6=self._without_ipv6 if protocol is Protocol.E131 else "",
            buffer_octets=listener.buffer_octets,
            beside=self.beside.get(protocol, ""),
            datagrams=book.datagrams,
            dropped=listener.dropped,
            malformed=book.malformed,
            last_malformed=book.last_malformed(),
            other=book.other,
            strays=listener.strays,
            refused=book.streams.refused + book.passed_over,
            forgotten=book.streams.forgotten,
        )
