"""Asks controllers whether they are there: by ArtPoll and by an echo, all at once and for a few seconds.

Both are harmless: neither carries levels. Art-Net 4, ArtPoll: a node answers, and does nothing else.
"""

import select
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field

from streamer.display.model import Controller, Protocol
from streamer.doctor.facts import Answered, Refusal
from streamer.errors import NetworkError, PacketError
from streamer.net.destinations import is_loopback
from streamer.net.echo import Echoes, EchoNotAllowedError
from streamer.net.interfaces import Interface, broadcast_addresses
from streamer.net.neighbours import UNSETTLED, Neighbour, neighbours
from streamer.net.receiver import UdpReceiver
from streamer.net.sender import UdpSender
from streamer.net.zones import without_zone
from streamer.wire import artnet

PATIENCE_S = 3.0
"""Art-Net 4, ArtPollReply: a node may wait up to a second before it answers; two more for a lost packet."""
RESOLVE_S = 9.0
"""Linux asks again for a hardware address 5 s after it used an old one, three times a second apart."""
AGAIN_S = 1.0
NAP_S = 0.05
READ_MAX = 1_000
NODES_MAX = 16
"""Kept of those that answer for one address: whatever answers, memory is bounded."""


@dataclass(slots=True)
class _Asked:
    address: str
    is_polled: bool
    is_everybody: bool
    nodes: dict[str, None] = field(default_factory=dict)
    echo_after_s: float | None = None
    no_echo: Refusal | None = None
    resolved_s_ago: float | None = None

    @property
    def is_done(self) -> bool:
        is_echo_done = self.is_everybody or self.no_echo is not None or self.echo_after_s is not None
        return is_echo_done and (not self.is_polled or (bool(self.nodes) and not self.is_everybody))

    @property
    def is_silent(self) -> bool:
        """Whether it was asked, and has answered nothing."""
        was_asked = self.is_polled or self.no_echo is None
        return was_asked and not (self.is_everybody or self.nodes or self.echo_after_s is not None)

    def is_settled_by(self, neighbour: Neighbour | None) -> bool:
        """Note what the kernel knows of it, and whether it knows: never of one behind a router."""
        if neighbour and neighbour.is_there:
            self.resolved_s_ago = neighbour.confirmed_s_ago
        return neighbour is None or not neighbour.state & UNSETTLED

    def answered(self) -> Answered:
        return Answered(
            self.is_polled,
            tuple(self.nodes),
            not self.is_everybody and self.no_echo is None,
            self.echo_after_s,
            self.no_echo,
            self.resolved_s_ago,
            PATIENCE_S,
        )


class Round:
    """Asks each address until it has answered, or patience is over."""

    def __init__(
        self,
        controllers: Sequence[Controller],
        interface: Interface | None,
        is_over: Callable[[], bool],
        *,
        may_poll: bool,
    ) -> None:
        self._is_over = is_over
        everybody = broadcast_addresses()
        polled = {each.address for each in controllers if each.protocol is Protocol.ARTNET and may_poll}
        self._asked = {
            each.address: _Asked(each.address, each.address in polled, each.address in everybody)
            for each in controllers
        }
        self._interface = interface
        self._has_everybody = any(each.is_everybody for each in self._asked.values())

    def answers(self) -> Mapping[str, Answered]:
        """Return what came of it, by the address. Raises NetworkError where nothing can be asked at all."""
        with ExitStack() as stack:
            echoes = stack.enter_context(Echoes(self._interface))
            sender = UdpSender(self._interface, broadcast=self._has_everybody)
            stack.callback(sender.close)
            receiver = self._receiver(stack)
            began_s = asked_s = time.monotonic()
            self._ask(echoes, sender, began_s)
            while (now_s := time.monotonic()) - began_s < PATIENCE_S and self._left():
                if self._is_over():
                    break
                if now_s - asked_s >= AGAIN_S:
                    asked_s = now_s
                    self._ask(echoes, sender, now_s)
                self._hear(echoes, receiver)
            self._see_who_is_there(began_s)
        return {address: each.answered() for address, each in self._asked.items()}

    def _receiver(self, stack: ExitStack) -> UdpReceiver | None:
        if not any(each.is_polled for each in self._asked.values()):
            return None
        try:
            # Art-Net 4, ArtPollReply: to this port, whichever the poll came from.
            return stack.enter_context(UdpReceiver(artnet.PORT, ""))
        except NetworkError:
            # Somebody else has it, which the check of the port tells; an echo can still be asked for.
            for each in self._asked.values():
                each.is_polled = False
            return None

    def _left(self) -> list[_Asked]:
        return [each for each in self._asked.values() if not each.is_done]

    def _see_who_is_there(self, began_s: float) -> None:
        """Look up who answers nothing, but has told its hardware address, until the kernel knows."""
        unknown = [each for each in self._asked.values() if each.is_silent]
        while unknown and not self._is_over():
            known = neighbours()
            unknown = [
                each for each in unknown if not each.is_settled_by(known.get(without_zone(each.address)))
            ]
            if unknown and time.monotonic() - began_s >= RESOLVE_S:
                return
            time.sleep(NAP_S)

    def _ask(self, echoes: Echoes, sender: UdpSender, now_s: float) -> None:
        for each in self._left():
            if each.is_polled and (each.is_everybody or not each.nodes):
                sender.send_one(artnet.ArtPoll().encode(), (each.address, artnet.PORT))
            if not each.is_everybody and each.echo_after_s is None and each.no_echo is None:
                self._ask_echo(echoes, each, now_s)

    @staticmethod
    def _ask_echo(echoes: Echoes, asked: _Asked, now_s: float) -> None:
        try:
            echoes.ask(asked.address, now_s)
        except EchoNotAllowedError as error:
            asked.no_echo = Refusal(error.what, error.instead)
        except NetworkError:
            # A full queue or a host not found the first time: the next request is a second later.
            return

    def _hear(self, echoes: Echoes, receiver: UdpReceiver | None) -> None:
        filenos = [*echoes.filenos, *([receiver.fileno()] if receiver else [])]
        select.select(filenos, [], [], NAP_S)
        for answer in echoes.answers(time.monotonic()):
            self._asked[answer.address].echo_after_s = answer.after_s
        for datagram in receiver.receive(READ_MAX) if receiver else ():
            try:
                reply = artnet.parse(datagram.payload)
            except PacketError:
                continue
            if isinstance(reply, artnet.ArtPollReply):
                self._note(reply, datagram.source[0])

    def _note(self, reply: artnet.ArtPollReply, source: str) -> None:
        for each in self._meant(source):
            if len(each.nodes) < NODES_MAX:
                name = reply.short_name or reply.long_name or "a node without a name"
                each.nodes[f"'{name}' at {source}" if each.is_everybody else f"'{name}'"] = None

    def _meant(self, source: str) -> Iterable[_Asked]:
        own = self._asked.get(source)
        everybody = (each for each in self._asked.values() if each.is_everybody)
        # What this machine answers itself, as a yard does, is nobody on the cable.
        return [*([own] if own else []), *(everybody if not is_loopback(source) else ())]
