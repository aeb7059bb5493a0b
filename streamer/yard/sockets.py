"""The yard on the network: the sockets that it hears by, all of them on loopback."""

from collections.abc import Mapping
from types import MappingProxyType

from streamer.closing import Closes
from streamer.display.addresses import is_by_ipv6
from streamer.display.model import Protocol
from streamer.errors import NetworkError
from streamer.net.destinations import EVERY_ADDRESS, EVERY_ADDRESS_IPV6, LOOPBACK_BROADCAST, is_ipv6
from streamer.net.interfaces import Interface, list_interfaces
from streamer.net.linux import IS_LINUX
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from streamer.wire import artnet, e131
from streamer.yard.reach import loopback_address
from streamer.yard.yard import Yard

PORTS: Mapping[Protocol, int] = MappingProxyType({Protocol.E131: e131.PORT, Protocol.ARTNET: artnet.PORT})
BATCH = 512
"""Datagrams read from one socket before the others have their turn."""
FAMILIES = (False, True)
"""Whether by IPv6."""


class YardSockets(Closes):
    """Holds the UDP ports that the yard's display needs, and gives it what arrives there.

    Close it, or use it in `with`. Raises NetworkError when a port is taken, saying by whom. Tests give
    `ports` of their own.
    """

    def __init__(self, yard: Yard, ports: Mapping[Protocol, int] = PORTS) -> None:
        self._yard = yard
        self._ports = ports
        self._groups: frozenset[str] = frozenset()
        self._deafness = ""
        self._receivers: list[tuple[Protocol, UdpReceiver]] = []
        self._sender = UdpSender(None)
        try:
            self._open()
        except BaseException:
            self.close()
            raise

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return [receiver.fileno() for _, receiver in self._receivers]

    def poll(self, now: float) -> int:
        """Give the yard what has arrived, as far as one batch goes; return how many datagrams that was."""
        count = 0
        for protocol, receiver in self._receivers:
            for datagram in receiver.receive(BATCH):
                count += 1
                host = datagram.source[0]
                for reply in self._yard.take(datagram.payload, protocol, now, host, datagram.destination):
                    # Nodes answer to port 6454; whoever asks from beside a yard cannot have that one too.
                    self._sender.send_one(reply, datagram.source)
        # Now that what waited has been read: what waits in a socket is lost when that is closed.
        if self._yard.groups() != self._groups:
            self._reopen_for_groups()
        return count

    @property
    def trouble(self) -> str:
        """What is wrong with the yard's own hearing, in words; empty when nothing is."""
        dropped = sum(receiver.dropped for _, receiver in self._receivers)
        if not dropped:
            return self._deafness
        return f"This machine was too slow for {dropped} packets, which the yard did not see"

    def close(self) -> None:
        """Free the ports."""
        for _, receiver in self._receivers:
            receiver.close()
        self._sender.close()

    def _reopen_for_groups(self) -> None:
        for protocol, receiver in self._receivers:
            if protocol is Protocol.E131:
                receiver.close()
        self._receivers = [each for each in self._receivers if each[0] is not Protocol.E131]
        self._groups = self._yard.groups()
        for by_ipv6 in FAMILIES:
            try:
                self._hear_family(Protocol.E131, by_ipv6=by_ipv6)
            except NetworkError as error:
                # What levels from the network name must not end the yard: it goes on without those groups.
                self._deafness = f"Groups cannot be heard: {error}"
                self._hear_addresses(Protocol.E131, by_ipv6=by_ipv6)

    def _open(self) -> None:
        self._groups = self._yard.groups()
        for protocol in Protocol:
            for by_ipv6 in FAMILIES:
                self._hear_family(protocol, by_ipv6=by_ipv6)

    def _hear_family(self, protocol: Protocol, *, by_ipv6: bool) -> None:
        """Hear controllers that are all reached by IPv4, or all by IPv6."""
        groups = frozenset(group for group in self._groups if is_ipv6(group) == by_ipv6)
        if protocol is Protocol.E131 and groups:
            # Groups want a socket bound to every address; it discards what did not come by loopback.
            every = EVERY_ADDRESS_IPV6 if by_ipv6 else EVERY_ADDRESS
            self._hear(protocol, every, groups, _loopback_interface())
        else:
            self._hear_addresses(protocol, by_ipv6=by_ipv6)

    def _hear_addresses(self, protocol: Protocol, *, by_ipv6: bool) -> None:
        addresses = {
            loopback_address(each)
            for each in self._yard.display.controllers
            if each.protocol is protocol and is_by_ipv6(each.address) == by_ipv6
        }
        for address in sorted(addresses):
            self._hear(protocol, address)
        # ArtSync is sent to all nodes of a network and never to one: Art-Net 4. Only Linux has the address.
        if addresses and protocol is Protocol.ARTNET and IS_LINUX and LOOPBACK_BROADCAST not in addresses:
            self._hear(protocol, LOOPBACK_BROADCAST, is_shared=True)

    def _hear(
        self,
        protocol: Protocol,
        address: str,
        groups: frozenset[str] = frozenset(),
        interface: Interface | None = None,
        *,
        is_shared: bool = False,
    ) -> None:
        receiver = UdpReceiver(self._ports[protocol], address, sorted(groups), interface, is_shared=is_shared)
        self._receivers.append((protocol, receiver))


def _loopback_interface() -> Interface:
    for interface in list_interfaces():
        if interface.is_loopback and interface.is_up:
            return interface
    raise NetworkError("no loopback interface is up", "the yard", "Switch it on, or restart the machine")
