"""Sends to groups what no light can take for levels, and hears whether it comes back to this machine.

Two things are sent, and neither carries a slot:

- By the group of the discovery universe, on E1.31's port, one universe discovery packet with an empty list.
  ANSI E1.31-2018 clause 8 and appendix A: that group carries nothing else, and receivers of levels do not
  join it. A data packet would not do, on whatever universe and with Preview_Data or a START code of its own:
  clause 6.2.6 says that previews shall not drive live output, but there are receivers that take any data
  packet for levels, and each that takes it for a source has one source more for 2.5 s (clause 6.7.1).
- By each group of the display a short datagram to a port of our own, on which no controller listens: clause
  9.1.1 has E1.31 on port 5568 alone. It says whether the group is routed and let through, not the port.
"""

import secrets
import select
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from uuid import uuid4

from streamer.doctor.facts import Refusal, Returned
from streamer.errors import NetworkError
from streamer.net.arrivals import address_text
from streamer.net.complaints import OTHERWISE, SENTENCES
from streamer.net.destinations import is_ipv6
from streamer.net.interfaces import Interface
from streamer.net.listener import Listener, Moment
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from streamer.wire import acn, e131

SOURCE_NAME = "Ropewalk doctor"
PATIENCE_S = 1.0
TURN_S = 0.05
AGAIN_S = 0.25
GROUPS_MAX = 256
"""Tried at most: a firewall knows ranges, and a route leads to all of them alike."""
TOKEN_OCTETS = 16
READ_MAX = 4 * GROUPS_MAX
_CID = slice(acn.CID_OCTET, acn.CID_OCTET + 16)


class OwnMulticast:
    """One try, with sockets of its own."""

    def __init__(
        self, groups: Sequence[str], interface: Interface | None, is_over: Callable[[], bool]
    ) -> None:
        self._is_over = is_over
        self._groups = tuple(groups[:GROUPS_MAX])
        self._untried = len(groups) - len(self._groups)
        self._interface = interface
        self._cid = uuid4()
        self._token = secrets.token_bytes(TOKEN_OCTETS)
        self._heard: set[str] = set()
        is_v6 = {is_ipv6(each) for each in self._groups}
        self._discovery = [_discovery_group(by_ipv6=each) for each in sorted(is_v6)]

    def seen(self) -> Returned:
        """Send, wait a moment, and return what came back."""
        sent = (*self._discovery, *self._groups)
        try:
            refused = self._try()
        except NetworkError as error:
            refused = Refusal(error.what, error.instead)
        return Returned(sent, frozenset(self._heard), refused, self._untried)

    def _try(self) -> Refusal | None:
        with ExitStack() as stack:
            listener = stack.enter_context(Listener(e131.PORT, self._interface))
            listener.join(self._discovery)
            receivers = {
                by_ipv6: stack.enter_context(UdpReceiver(0, "::" if by_ipv6 else "", groups, self._interface))
                for by_ipv6, groups in self._by_version()
            }
            sender = UdpSender(self._interface)
            stack.callback(sender.close)
            began_s, sent_s = time.monotonic(), float("-inf")
            while time.monotonic() - began_s < PATIENCE_S and self._left() and not self._is_over():
                if time.monotonic() - sent_s >= AGAIN_S:
                    sent_s = time.monotonic()
                    self._send(sender, receivers)
                filenos = [listener.fileno(), *(each.fileno() for each in receivers.values())]
                select.select(filenos, [], [], TURN_S)
                self._hear(listener, receivers)
            return _refusal(sender) if self._left() else None

    def _left(self) -> list[str]:
        return [each for each in (*self._discovery, *self._groups) if each not in self._heard]

    def _by_version(self) -> Iterator[tuple[bool, tuple[str, ...]]]:
        for by_ipv6 in (False, True):
            groups = tuple(each for each in self._groups if is_ipv6(each) is by_ipv6)
            if groups:
                yield by_ipv6, groups

    def _send(self, sender: UdpSender, receivers: dict[bool, UdpReceiver]) -> None:
        (page,) = e131.discovery_pages(self._cid, SOURCE_NAME, ())
        for group in self._left():
            if group in self._discovery:
                sender.send_one(page.encode(), (group, e131.PORT))
            else:
                sender.send_one(self._token, (group, receivers[is_ipv6(group)].port))

    def _hear(self, listener: Listener, receivers: dict[bool, UdpReceiver]) -> None:
        arrivals = listener.read(Moment(time.monotonic(), time.time_ns()))
        for name, octets in zip(arrivals.names, arrivals.octets, strict=True):
            if octets[_CID].tobytes() == self._cid.bytes:
                self._heard.add(_discovery_group(by_ipv6=is_ipv6(address_text(name))))
        for receiver in receivers.values():
            for datagram in receiver.receive(READ_MAX):
                if datagram.payload == self._token and datagram.destination:
                    self._heard.add(datagram.destination)


def _discovery_group(*, by_ipv6: bool) -> str:
    group_of = e131.multicast_group_v6 if by_ipv6 else e131.multicast_group
    return group_of(e131.DISCOVERY_UNIVERSE)


def _refusal(sender: UdpSender) -> Refusal | None:
    for name in sender.counters.errors:
        return Refusal(*SENTENCES.get(name, (f"the system refuses to send ({name})", OTHERWISE)))
    return None
