"""What a port has got from the network: the levels of the universes that it listens to, and how they came."""

from collections.abc import Iterable
from enum import StrEnum

import numpy as np

from streamer.display.model import SLOTS_PER_UNIVERSE
from streamer.wire.artnet import ArtDmx, ArtSync
from streamer.wire.artnet_reception import ArtNetReception
from streamer.wire.e131 import DataPacket, SyncPacket
from streamer.wire.reception import Reception, Verdict

COLUMNS = SLOTS_PER_UNIVERSE + 1
"""Slots 1 to 512, and before them the START code, which is 0 wherever there are levels."""
Arrival = DataPacket | ArtDmx | SyncPacket | ArtSync
ACTED_ON = frozenset({Verdict.ACCEPTED, Verdict.HELD, Verdict.TERMINATED})


class OnLoss(StrEnum):
    """What a port puts out when nobody sends to it any more."""

    HOLD = "hold"
    """The last levels. Neither standard says what is right; many controllers do this, and only this shows
    whether a sender makes the lights dark before it goes."""
    DARK = "dark"


class Intake:
    """The levels of some universes, of one protocol. Every call says what time it is, in seconds.

    Slots that a short packet leaves out keep their level, and so do all slots while no packet comes:
    ANSI E1.31-2018 allows fewer than 512 slots and does not say what becomes of the others.
    """

    def __init__(self, on_loss: OnLoss) -> None:
        self.rows: dict[int, int] = {}
        """The row of `levels` for each universe that is listened to."""
        self.levels = np.zeros((0, COLUMNS), np.uint8)
        """A row for each universe and a column for each slot; column 0 is always 0."""
        self.packets = 0
        """Packets for these universes, whatever became of them."""
        self.discarded = 0
        """Those among them that were not acted on: out of order, preview, no levels, a source too many."""
        self._on_loss = on_loss
        self._e131 = Reception()
        self._artnet = ArtNetReception()

    def listen(self, universes: Iterable[int]) -> None:
        """Listen to these universes and no others; one that is new is dark until its first packet."""
        self.rows = {universe: row for row, universe in enumerate(dict.fromkeys(universes))}
        self.levels = np.zeros((len(self.rows), COLUMNS), np.uint8)
        self._fill_all()

    @property
    def lost(self) -> int:
        """Packets missing by their sequence numbers."""
        return sum(
            self._e131.counters(universe).lost + self._artnet.counters(universe).lost
            for universe in self.rows
        )

    @property
    def live(self) -> frozenset[int]:
        """The universes that somebody sends to, as of the last `expire`."""
        return frozenset(filter(self._is_live, self.rows))

    def take(self, packet: Arrival, ip: str, now: float) -> None:
        """Take a packet: levels for one of the universes, or the synchronization of some that wait."""
        match packet:
            case DataPacket():
                self._judge(packet.universe, self._e131.receive(packet, now))
            case ArtDmx():
                self._judge(packet.port_address, self._artnet.receive(packet, ip, now))
            case SyncPacket():
                self._e131.synchronize(packet, now)
                self._fill_all()
            case ArtSync():
                self._artnet.synchronize(ip, now)
                self._fill_all()

    def _judge(self, universe: int, verdict: Verdict) -> None:
        self.packets += 1
        if verdict not in ACTED_ON:
            self.discarded += 1
        # Any packet may change who counts: a source that goes over to previews lets a lower priority through.
        self._fill(universe)

    def expire(self, now: float) -> None:
        """Notice the sources that have gone silent. Call it several times a second."""
        self._e131.expire(now)
        self._artnet.expire(now)
        self._fill_all()

    def _is_live(self, universe: int) -> bool:
        return bool(self._e131.sources(universe) or self._artnet.sources(universe))

    def _fill_all(self) -> None:
        for universe in self.rows:
            self._fill(universe)

    def _fill(self, universe: int) -> None:
        row = self.levels[self.rows[universe]]
        if self._on_loss is OnLoss.DARK and not self._is_live(universe):
            row[:] = 0
        elif slots := self._e131.levels(universe) or self._artnet.levels(universe):
            row[1 : 1 + len(slots)] = np.frombuffer(slots, np.uint8)
