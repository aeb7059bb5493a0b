"""The sockets of a scan: one that polls and hears answers, and those that hear universe discovery."""

import select
from contextlib import ExitStack
from dataclasses import dataclass, field

from streamer.errors import NetworkError, PacketError
from streamer.net.arrivals import Arrivals, address_text
from streamer.net.exchange import Exchange
from streamer.net.interfaces import Interface, list_interfaces
from streamer.net.listener import Listener, Moment
from streamer.net.who import is_held_everywhere
from streamer.scan.poller import Poller
from streamer.wire import acn, artnet, e131
from streamer.wire.announcements import Announcements
from streamer.wire.art_header import header
from streamer.wire.screening import may_be_e131

TURN_S = 0.1
"""The longest wait: a signal, or a screen that closes, is noticed within this time."""
BATCH = 256
"""Datagrams taken from a socket before the others have their turn."""
COMPLAINTS_MAX = 8
ART_DMX = header(artnet.OpCode.DMX)
DATA_VECTOR = acn.VECTOR_ROOT_E131_DATA.to_bytes(4, "big")
GROUPS = (e131.multicast_group(e131.DISCOVERY_UNIVERSE), e131.multicast_group_v6(e131.DISCOVERY_UNIVERSE))


@dataclass(slots=True)
class Ears:
    """Gives the poller and the announcements what arrives. Levels, which may come by thousands, are kept out.

    Devices answer to Art-Net's own port, or to the one that asked. Where another program holds the port, the
    poll leaves by another one, and what is sent to everybody is heard beside that program.
    """

    poller: Poller
    announcements: Announcements
    interface: Interface | None = None
    complaints: dict[str, None] = field(default_factory=dict)
    """What the system refuses, in sentences."""
    _exchanges: list[Exchange] = field(default_factory=list)
    _answers: list[Listener] = field(default_factory=list)
    _discovery: list[Listener] = field(default_factory=list)

    def open(self, stack: ExitStack) -> None:
        """Open the sockets; they are closed with the stack. Raises NetworkError where polling cannot be."""
        try:
            exchange = Exchange(artnet.PORT, self.interface)
        except NetworkError as error:
            exchange = Exchange(0, self.interface)
            self._hear_beside(stack, error)
        exchange.ignore(0, ART_DMX)
        self._exchanges.append(stack.enter_context(exchange))
        for interface in [self.interface] if self.interface else list_interfaces():
            if interface.is_up and interface.can_multicast:
                self._hear_discovery(stack, interface)

    def _hear_beside(self, stack: ExitStack, taken: NetworkError) -> None:
        """Hear what is sent to everybody, and to those of this machine's addresses that are not taken."""
        unheard = (
            f"{taken.where}: {taken.what}. Devices that answer to that port alone go unheard: end that "
            "program if one is missing"
        )
        if is_held_everywhere(artnet.PORT):
            self._complain(unheard)
        try:
            listener = stack.enter_context(Listener(artnet.PORT, self.interface))
        except NetworkError:  # whoever holds it lets nobody in
            self._complain(unheard)
            return
        listener.ignore(0, ART_DMX)
        self._answers.append(listener)

    def _hear_discovery(self, stack: ExitStack, interface: Interface) -> None:
        try:
            listener = stack.enter_context(Listener(e131.PORT, interface))
        except NetworkError as error:
            self._complain(f"Universe discovery is not heard. {error}")
            return
        listener.ignore(acn.ROOT_VECTOR_OCTET, DATA_VECTOR)
        self._discovery.append(listener)
        for group in GROUPS:
            try:
                listener.join_more([group])
            except NetworkError as error:
                # An interface without an address of that kind has no such group; the other may do.
                if group is GROUPS[0] and interface.addresses:
                    self._complain(f"Universe discovery is not heard on {interface.name}. {error}")

    def ask(self, now: float) -> None:
        """Send the questions that are due."""
        for question in self.poller.due(now):
            for exchange in self._exchanges:
                refusal = exchange.send(question.octets, (question.address, artnet.PORT))
                if refusal:
                    self._complain(refusal)

    def wait(self, until_s: float, now: float) -> None:
        """Wait until something can be read, or questions are due, or a turn is over."""
        sockets: list[Exchange | Listener] = [*self._exchanges, *self._answers, *self._discovery]
        select.select(sockets, [], [], max(0.0, min(TURN_S, until_s - now)))

    def take(self, moment: Moment) -> None:
        """Take in what waits, as far as one batch a socket goes."""
        for exchange in self._exchanges:
            for datagram in exchange.receive(BATCH):
                self.poller.heard(datagram.payload, datagram.source[0], moment.now_s)
        for listener in self._answers:
            for octets, source in _each(listener.read(moment)):
                self.poller.heard(octets, source, moment.now_s)
        for listener in self._discovery:
            arrivals = listener.read(moment)
            for octets, source in _each(arrivals.some(may_be_e131(arrivals.octets, arrivals.lengths))):
                self._announce(octets, source, moment.now_s)

    def _announce(self, octets: bytes, source: str, now: float) -> None:
        try:
            packet = e131.parse(octets)
        except PacketError:  # `ropewalk hear` tells those
            return
        if isinstance(packet, e131.DiscoveryPacket):
            self.announcements.announce(packet, source, now)

    def _complain(self, sentence: str) -> None:
        if len(self.complaints) < COMPLAINTS_MAX:
            self.complaints[sentence.rstrip(".") + "."] = None


def _each(arrivals: Arrivals) -> list[tuple[bytes, str]]:
    return [
        (arrivals.octets[row, :length].tobytes(), address_text(arrivals.names[row]))
        for row, length in enumerate(arrivals.lengths.tolist())
    ]
