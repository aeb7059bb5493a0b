"""Which of ANSI E1.31-2018's synchronization addresses are alive, and so which levels wait (6.2.4, 11).

Levels are held only after the first synchronization packet for their address has come. If none comes
for 2.5 s synchronization is lost: then levels either stay as they are until it resumes, or are acted
on as they come, as their Force_Synchronization flag says.
"""

from dataclasses import dataclass
from uuid import UUID

from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S, Options, SyncPacket
from streamer.wire.sequence import e131_accepts

ADDRESSES_MAX = 256
"""More than any display needs; without a bound a hostile network could fill the memory."""


@dataclass(slots=True)
class _Address:
    cid: UUID
    sequence: int
    heard_s: float


class Synchronization:
    """The addresses that synchronization packets have come for."""

    def __init__(self) -> None:
        self._addresses: dict[int, _Address] = {}

    def accept(self, packet: SyncPacket, now: float) -> bool:
        """Take a synchronization packet; say whether it is in order and so releases held levels.

        Order is kept for the latest source of an address; another source is accepted at once.
        """
        known = self._addresses.get(packet.sync_address)
        if known and known.cid == packet.cid and now - known.heard_s < DATA_LOSS_TIMEOUT_S:
            if not e131_accepts(known.sequence, packet.sequence):
                return False
        elif not known:
            self._make_room()
        self._addresses[packet.sync_address] = _Address(packet.cid, packet.sequence, now)
        return True

    def holds(self, sync_address: int, options: Options, now: float) -> bool:
        """Say whether levels for this address must wait for its next synchronization packet."""
        known = self._addresses.get(sync_address)
        if not known:
            return False
        is_lost = now - known.heard_s >= DATA_LOSS_TIMEOUT_S
        return not (is_lost and Options.FORCE_SYNCHRONIZATION in options)

    def _make_room(self) -> None:
        if len(self._addresses) >= ADDRESSES_MAX:
            del self._addresses[min(self._addresses, key=lambda address: self._addresses[address].heard_s)]
