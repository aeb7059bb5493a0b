"""The yard on the network: the sockets that it hears by, all of them on loopback."""

from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType
from typing import Self

from streamer.display.addresses import is_by_ipv6
from streamer.display.model import GROUPS, Controller, Protocol
from streamer.errors import NetworkError
from streamer.net.destinations import EVERY_ADDRESS, EVERY_ADDRESS_IPV6, is_ipv6
from streamer.net.interfaces import Interface, list_interfaces
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from streamer.wire import artnet, e131
from streamer.yard.yard import Yard, loopback_address

PORTS: Mapping[Protocol, int] = MappingProxyType({Protocol.E131: e131.PORT, Protocol.ARTNET: artnet.PORT})
BATCH = 512
"""Datagrams read from one socket before the others have their turn."""


class YardSockets:
    """Holds the UDP ports that the yard's display needs, and gives it what arrives there.

    Close it, or use it in `with`. Raises NetworkError when a port is taken, saying by whom. Tests give
    `ports` of their own.
    """

    def __init__(self, yard: Yard, ports: Mapping[Protocol, int] = PORTS) -> None:
        self._yard = yard
        self._ports = ports
        self._groups: frozenset[str] = frozenset()
        self._receivers: list[tuple[Protocol, UdpReceiver]] = []
        self._sender = UdpSender(None)
        try:
            self._open(Protocol)
        except BaseException:
            self.close()
            raise

    def filenos(self) -> list[int]:
        """Return the descriptors to wait on for reading."""
        return [receiver.fileno() for _, receiver in self._receivers]

    def poll(self, now: float) -> int:
        """Give the yard what has arrived, as far as one batch goes; return how many datagrams that was."""
        if self._yard.groups() != self._groups:
            self._reopen_for_groups()
        count = 0
        for protocol, receiver in self._receivers:
            for datagram in receiver.receive(BATCH):
                count += 1
                host = datagram.source[0]
                for reply in self._yard.take(datagram.payload, protocol, now, host, datagram.destination):
                    # Nodes answer to port 6454; whoever asks from beside a yard cannot have that one too.
                    self._sender.send_one(reply, datagram.source)
        return count

    @property
    def trouble(self) -> str:
        """What is wrong with the yard's own hearing, in words; empty when nothing is."""
        dropped = sum(receiver.dropped for _, receiver in self._receivers)
        return (
            f"This machine was too slow for {dropped} packets, which the yard did not see" if dropped else ""
        )

    def close(self) -> None:
        """Free the ports."""
        for _, receiver in self._receivers:
            receiver.close()
        self._sender.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _reopen_for_groups(self) -> None:
        for protocol, receiver in self._receivers:
            if protocol is Protocol.E131:
                receiver.close()
        self._receivers = [each for each in self._receivers if each[0] is not Protocol.E131]
        self._open([Protocol.E131])

    def _open(self, protocols: Iterable[Protocol]) -> None:
        self._groups = self._yard.groups()
        for protocol in protocols:
            controllers = [each for each in self._yard.display.controllers if each.protocol is protocol]
            for by_ipv6 in (False, True):
                self._open_family(protocol, [c for c in controllers if is_by_ipv6(c.address) == by_ipv6])

    def _open_family(self, protocol: Protocol, controllers: Collection[Controller]) -> None:
        """Hear controllers that are all reached by IPv4, or all by IPv6."""
        if not any(controller.address in GROUPS for controller in controllers):
            for address in sorted(set(map(loopback_address, controllers))):
                self._hear(protocol, address)
            return
        # Groups want a socket bound to every address; it discards what did not come by loopback.
        by_ipv6 = any(is_by_ipv6(controller.address) for controller in controllers)
        groups = frozenset(group for group in self._groups if is_ipv6(group) == by_ipv6)
        every = EVERY_ADDRESS_IPV6 if by_ipv6 else EVERY_ADDRESS
        self._hear(protocol, every, groups, _loopback_interface())

    def _hear(
        self,
        protocol: Protocol,
        address: str,
        groups: frozenset[str] = frozenset(),
        interface: Interface | None = None,
    ) -> None:
        receiver = UdpReceiver(self._ports[protocol], address, sorted(groups), interface)
        self._receivers.append((protocol, receiver))


def _loopback_interface() -> Interface:
    for interface in list_interfaces():
        if interface.is_loopback and interface.is_up:
            return interface
    raise NetworkError("no loopback interface is up", "the yard", "Switch it on, or restart the machine")
