"""Asks Art-Net devices who they are, and keeps what they answer. It opens no socket and reads no clock.

Art-Net 4, ArtPoll: a controller polls every 2.5 to 3 s by the directed broadcast address; devices answer
after a random time of up to 1 s, and one that has not answered within 3 s counts as disconnected. A poll to
one address alone is allowed in targeted mode.

    poller = Poller(["192.168.7.255"], ["192.168.7.20"])
    for question in poller.due(now):        # send each from, and listen on, UDP port 6454
        send(question.octets, (question.address, artnet.PORT))
    poller.heard(octets, source_address, now)
    poller.devices(now)
"""

from collections import deque
from collections.abc import Iterable
from ipaddress import ip_address
from typing import NamedTuple

from streamer.errors import PacketError
from streamer.scan.devices import Device, device_of
from streamer.scan.memory import Memory
from streamer.wire.artnet import ArtPoll, ArtPollReply, PollFlags, parse
from streamer.wire.fields import Datagram
from streamer.wire.port_address import PORT_ADDRESS_MAX

POLL_EACH_S = 2.75
"""In the middle of the 2.5 to 3 s that the specification gives."""
ANSWER_S = 3.0
"""How long a device may take to answer."""
POLLS_KEPT = 4
NEVER_S = float("-inf")

ASK_ALL = ArtPoll().encode()
ASK_ONE = ArtPoll(PollFlags.TARGETED, target_top=PORT_ADDRESS_MAX, target_bottom=0).encode()
"""Every device with any port is meant."""


class Question(NamedTuple):
    """A datagram to send to Art-Net's port at an address."""

    octets: bytes
    address: str


class Poller:
    """The devices that answer polls.

    `broadcasts` are directed broadcast addresses; `addresses` those of single devices, polled as well. Times
    are seconds on any steady clock, the same for every call. Nothing that arrives raises.
    """

    def __init__(self, broadcasts: Iterable[str], addresses: Iterable[str] = ()) -> None:
        everybody = tuple(dict.fromkeys(broadcasts))
        single = tuple(each for each in dict.fromkeys(addresses) if each not in everybody)
        self._questions = (
            *(Question(ASK_ALL, each) for each in everybody),
            *(Question(ASK_ONE, each) for each in single),
        )
        self.polls = 0
        """How many rounds of questions were asked."""
        self.malformed = 0
        """Datagrams that are no Art-Net, or break its rules."""
        self.last_malformed = ""
        """What is wrong with the latest, in words."""
        self.other = 0
        """Packets of Art-Net that are no replies."""
        self._memory = Memory(single)
        self._asked_s: deque[float] = deque(maxlen=POLLS_KEPT)

    @property
    def passed_over(self) -> int:
        """Replies that there was no room to remember."""
        return self._memory.passed_over

    @property
    def forgotten(self) -> int:
        """Replies of devices long silent that made room for others."""
        return self._memory.forgotten

    @property
    def next_s(self) -> float:
        """When the next questions are due: at once before the first."""
        return self._asked_s[-1] + POLL_EACH_S if self._asked_s else NEVER_S

    def due(self, now: float) -> tuple[Question, ...]:
        """Return the questions due now: all of a round, or none. A late call asks once, not in a burst."""
        if now < self.next_s:
            return ()
        self._asked_s.append(now)
        self.polls += 1
        return self._questions

    def heard(self, octets: Datagram, source: str, now: float) -> bool:
        """Take a datagram from an address, and say whether it was a device's reply."""
        try:
            packet = parse(octets)
        except PacketError as error:
            self.malformed += 1
            self.last_malformed = f"from {source}: {error}"
            return False
        if not isinstance(packet, ArtPollReply):
            self.other += 1
            return False
        self._memory.take(packet, source, now, answer_due_s=self._answer_due_s(now))
        return True

    def devices(self, now: float) -> list[Device]:
        """Return every device that is remembered, those gone silent included, by address."""
        due_s = self._answer_due_s(now)
        return sorted((device_of(each, due_s) for each in self._memory.by_device()), key=_place)

    def _answer_due_s(self, now: float) -> float:
        """Return when the latest poll was whose answer should be here by now."""
        return max((asked_s for asked_s in self._asked_s if now - asked_s >= ANSWER_S), default=NEVER_S)


def _place(device: Device) -> tuple[int, str]:
    return int(ip_address(device.address)), device.source
