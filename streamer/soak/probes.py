"""The two ways to ask controllers whether they are there: ArtPoll, and an echo by ICMP."""

from collections.abc import Iterable, Sequence
from contextlib import suppress
from typing import NamedTuple, Protocol

from streamer.errors import NetworkError
from streamer.net.destinations import is_ipv6, is_loopback
from streamer.net.echo import Echoes, EchoNotAllowedError
from streamer.net.exchange import Exchange
from streamer.net.interfaces import find_interface
from streamer.scan.devices import WORST_CODES
from streamer.scan.poller import Poller
from streamer.wire import artnet
from streamer.wire.art_header import header

ECHO_EACH_S = 1.0
BATCH = 256
ANY_PORT = 0
ART_DMX = header(artnet.OpCode.DMX)


class Answer(NamedTuple):
    """A controller has answered."""

    address: str
    after_s: float | None
    """None where that says nothing: devices answer a poll after a random time."""


class Restart(NamedTuple):
    """A controller has been switched off and on, it seems."""

    address: str
    words: str


class Probe(Protocol):
    """Asks, and hears answers, without waiting. NetworkError where the system refuses altogether."""

    def ask(self, now_s: float) -> Sequence[str]:
        """Ask whom it is time to ask, and return their addresses."""

    def answers(self, now_s: float) -> Sequence[Answer]:
        """Return the answers that have come since this was asked last."""

    def restarts(self, now_s: float) -> Sequence[Restart]:
        """Return the restarts noticed since this was asked last."""

    def complaints(self, now_s: float) -> Iterable[tuple[str, str]]:
        """Return what controllers say is wrong with them: address and words."""

    def filenos(self) -> Sequence[int]:
        """Return the descriptors on which answers come."""

    def close(self) -> None:
        """Free the ports."""


class PollProbe:
    """Asks by ArtPoll, each controller by its own address. Art-Net 4, ArtPoll."""

    def __init__(self, addresses: Sequence[str], interface: str | None) -> None:
        """Open Art-Net's port, or another where that is taken: most devices answer the port that asked."""
        wanted = [address for address in addresses if not is_ipv6(address)]
        self._poller = Poller((), wanted)
        card = find_interface(interface) if interface else None
        self._exchange: Exchange | None = None
        # A yard on this machine needs that port itself.
        if not all(map(is_loopback, wanted)):
            with suppress(NetworkError):
                self._exchange = Exchange(artnet.PORT, card)
        self._exchange = self._exchange or Exchange(ANY_PORT, card)
        self._exchange.ignore(0, ART_DMX)
        self._restarts: dict[str, int] = {}

    def ask(self, now_s: float) -> Sequence[str]:
        """Send a round of polls if it is due."""
        questions = self._poller.due(now_s)
        for question in questions:
            # What the system refuses is no answer, and what is wrong then is watched elsewhere.
            self._open.send(question.octets, (question.address, artnet.PORT))
        return [question.address for question in questions]

    def answers(self, now_s: float) -> Sequence[Answer]:
        """Return who has replied."""
        heard = [
            self._poller.heard(datagram.payload, datagram.source[0], now_s)
            for datagram in self._open.receive(BATCH)
        ]
        if not any(heard):
            return ()
        now = [device for device in self._poller.devices(now_s) if device.heard_s == now_s]
        # A host of several addresses may answer from another one than was asked, and say so.
        named = dict.fromkeys(each for device in now for each in (device.source, device.address))
        return [Answer(address, None) for address in named]

    def restarts(self, now_s: float) -> Sequence[Restart]:
        """Return the restarts that show in counters and reports."""
        found = []
        for device in self._poller.devices(now_s):
            if device.restarts > self._restarts.get(device.address, 0):
                found.append(Restart(device.address, device.restart))
            self._restarts[device.address] = max(device.restarts, self._restarts.get(device.address, 0))
        return found

    def complaints(self, now_s: float) -> Iterable[tuple[str, str]]:
        """Return the reports of those that say that something is wrong."""
        for device in self._poller.devices(now_s):
            if device.report and device.report.code in WORST_CODES:
                yield device.address, f"it reports: {device.report.meaning}"

    def filenos(self) -> Sequence[int]:
        """Return its socket."""
        return (self._open.fileno(),)

    def close(self) -> None:
        """Free the port."""
        if self._exchange is not None:
            self._exchange.close()

    @property
    def _open(self) -> Exchange:
        if self._exchange is None:
            raise NetworkError("it is closed", "asking by ArtPoll", "Start again")
        return self._exchange


class EchoProbe:
    """Asks by ICMP echo, which some systems allow to no common user: EchoNotAllowedError, from `ask`."""

    def __init__(self, addresses: Sequence[str], interface: str | None) -> None:
        """Open nothing yet."""
        self._addresses = tuple(addresses)
        self._echoes = Echoes(find_interface(interface) if interface else None)
        self._asked_s = float("-inf")

    def ask(self, now_s: float) -> Sequence[str]:
        """Ask all for an echo if it is time."""
        if now_s - self._asked_s < ECHO_EACH_S:
            return ()
        self._asked_s = now_s
        for address in self._addresses:
            self._ask_one(address, now_s)
        return self._addresses

    def _ask_one(self, address: str, now_s: float) -> None:
        try:
            self._echoes.ask(address, now_s)
        except EchoNotAllowedError:
            raise
        except NetworkError:
            # Not sent is not answered; what is wrong with the way there is watched elsewhere.
            return

    def answers(self, now_s: float) -> Sequence[Answer]:
        """Return whose echo has come back."""
        return [Answer(each.address, each.after_s) for each in self._echoes.answers(now_s)]

    def restarts(self, now_s: float) -> Sequence[Restart]:  # noqa: ARG002  an echo tells of none
        """Return none."""
        return ()

    def complaints(self, now_s: float) -> Iterable[tuple[str, str]]:  # noqa: ARG002  an echo tells of none
        """Return none."""
        return ()

    def filenos(self) -> Sequence[int]:
        """Return its sockets."""
        return self._echoes.filenos

    def close(self) -> None:
        """Close its sockets."""
        self._echoes.close()
