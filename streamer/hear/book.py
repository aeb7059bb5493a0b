"""All that is heard by one protocol: datagrams in, counters and levels of every stream kept.

No socket and no clock. Headers that are known are counted without a loop; new ones are parsed one by one, and
only so many a second, so that a flood of them costs the live streams nothing.
"""

from collections import deque

import numpy as np
from numpy.typing import NDArray

from streamer.display.model import Protocol
from streamer.errors import PacketError
from streamer.hear.facts import Facts, read
from streamer.hear.headers import NEW, SHAPES, Headers
from streamer.hear.ledger import SLOTS_MAX, Ledger
from streamer.hear.order import RULES
from streamer.hear.streams import Stream, Streams
from streamer.net.arrivals import Arrivals, address_text
from streamer.wire.announcements import Announcements
from streamer.wire.artnet import ArtSync
from streamer.wire.e131 import DiscoveryPacket, SyncPacket
from streamer.wire.screening import is_other_artnet, may_be_artnet, may_be_e131

NEWCOMERS_MAX = 2_500
"""New headers parsed in a second, and at once: some 0.1 s of work, which the buffer bridges."""
HISTORY_MAX = 2_048
"""Levels kept of the slot that is watched."""
INITIAL_ROOM = 256

Numbers = NDArray[np.intp]
Flags = NDArray[np.bool_]


class Book:
    """What is known of one protocol."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.datagrams = self.malformed = self.other = self.passed_over = 0
        self.ledger = Ledger(RULES[protocol])
        self.announcements = Announcements()
        self._shape = SHAPES[protocol]
        self._headers = Headers(protocol)
        self.streams = Streams(self._headers, self.ledger)
        self._row_of: Numbers = np.zeros(INITIAL_ROOM, np.intp)
        self._is_levels: Flags = np.zeros(INITIAL_ROOM, np.bool_)
        self._is_end: Flags = np.zeros(INITIAL_ROOM, np.bool_)
        self._newcomers_left = float(NEWCOMERS_MAX)
        self._newcomers_s: float | None = None
        self._malformed_sample: tuple[str, bytes] | None = None
        self._watched: tuple[int, int] | None = None
        self.history: deque[tuple[float, int]] = deque(maxlen=HISTORY_MAX)
        """When, and at which level, the watched slot was sent."""

    def take(self, arrivals: Arrivals, now: float) -> None:
        """Take in datagrams that were read by now, oldest first."""
        if not len(arrivals):
            return
        self.datagrams += len(arrivals)
        words = self._headers.words(arrivals)
        headers = self._headers.find(words)
        is_new = headers == NEW
        if is_new.any():
            # Nothing that is heard right now may be forgotten to make room.
            self.ledger.seen_s[self._row_of[headers[~is_new]]] = now
            self._meet(arrivals, words, headers, now)
            is_known = headers != NEW
            if not is_known.any():
                return
            if not is_known.all():
                arrivals, headers = arrivals.some(is_known), headers[is_known]
        self._count(arrivals, headers)

    def _count(self, arrivals: Arrivals, headers: Numbers) -> None:
        rows = self._row_of[headers]
        sequences = arrivals.octets[:, self._shape.sequence_octet].astype(np.intp)
        order, is_accepted = self.ledger.note(rows, arrivals, sequences, self._is_end[headers])
        chosen = order[is_accepted & self._is_levels[headers[order]]]
        rows = rows[chosen]
        first = self._shape.slots_octet
        self.ledger.levels[rows] = arrivals.octets[chosen, first : first + SLOTS_MAX]
        self.ledger.header[rows] = headers[chosen]
        if self._watched:
            row, slot = self._watched
            for index in chosen[rows == row].tolist():
                level = int(arrivals.octets[index, first + slot - 1])
                self.history.append((float(arrivals.heard_s[index]), level))

    def watch(self, row: int, slot: int) -> None:
        """Keep the history of a slot, from 1, of one stream, by its row."""
        if (row, slot) != self._watched:
            self._watched = row, slot
            self.history.clear()

    def unwatch(self) -> None:
        """Keep no history."""
        self._watched = None
        self.history.clear()

    def last_malformed(self) -> str:
        """Return what is wrong with one of the latest datagrams that are no packets, and whose it was."""
        if self._malformed_sample is None:
            return ""
        address, octets = self._malformed_sample
        try:
            read(self.protocol, octets, address)
        except PacketError as error:
            return f"from {address}: {error}"
        return ""

    def _meet(self, arrivals: Arrivals, words: NDArray[np.uint64], headers: Numbers, now: float) -> None:
        """Look at packets whose headers are not known, and write the numbers that they get into `headers`."""
        new = np.flatnonzero(headers == NEW)
        new = new[self._screened(arrivals, new)]
        met: dict[bytes, int] = {}
        allowed = self._allowance(now)
        for index in new.tolist():
            key = words[index].tobytes()
            if key not in met:
                if allowed <= 0:
                    self.passed_over += 1
                    continue
                allowed -= 1
                met[key] = self._header(arrivals, index, words[index], now)
            headers[index] = met[key]
        self._newcomers_left = allowed
        forgotten = self._headers.release()
        if forgotten:
            # Their rows may be others' by now.
            headers[np.isin(headers, forgotten)] = NEW

    def _screened(self, arrivals: Arrivals, new: Numbers) -> Flags:
        """Say which new ones may be packets, and count the others."""
        octets, lengths = arrivals.octets[new], arrivals.lengths[new]
        may_be = (may_be_e131 if self.protocol is Protocol.E131 else may_be_artnet)(octets, lengths)
        is_wrong = ~may_be
        if self.protocol is Protocol.ARTNET:
            is_other = is_other_artnet(octets, lengths)
            self.other += int(is_other.sum())
            is_wrong &= ~is_other
        if is_wrong.any():
            self._note_malformed(arrivals, int(new[np.flatnonzero(is_wrong)[-1]]), int(is_wrong.sum()))
        return may_be

    def _note_malformed(self, arrivals: Arrivals, index: int, count: int = 1) -> None:
        self.malformed += count
        self._malformed_sample = address_text(arrivals.names[index]), _payload(arrivals, index)

    def _allowance(self, now: float) -> float:
        passed_s = now - self._newcomers_s if self._newcomers_s is not None else 0.0
        self._newcomers_s = now
        return min(self._newcomers_left + passed_s * NEWCOMERS_MAX, float(NEWCOMERS_MAX))

    def _header(self, arrivals: Arrivals, index: int, words: NDArray[np.uint64], now: float) -> int:
        """Parse one packet and know its header from now on; NEW if it is none of levels or finds no room."""
        address = address_text(arrivals.names[index])
        try:
            packet = read(self.protocol, _payload(arrivals, index), address)
        except PacketError:
            self._note_malformed(arrivals, index)
            return NEW
        if not isinstance(packet, Facts):
            self.other += 1
            self._note_other(packet, address, now)
            return NEW
        header = self._headers.add(words)
        stream = self.streams.meet(packet, header, now)
        if stream is None:
            self._headers.forget(header)
            return NEW
        # What is heard right now is not to make room for what comes after it.
        self.ledger.seen_s[stream.row] = now
        self._note_header(header, stream, packet)
        return header

    def _note_header(self, header: int, stream: Stream, facts: Facts) -> None:
        if header >= len(self._row_of):
            self._row_of = np.concatenate([self._row_of, np.zeros_like(self._row_of)])
            self._is_levels = np.concatenate([self._is_levels, np.zeros_like(self._is_levels)])
            self._is_end = np.concatenate([self._is_end, np.zeros_like(self._is_end)])
        self._row_of[header] = stream.row
        self._is_levels[header] = facts.is_levels
        self._is_end[header] = facts.is_end

    def _note_other(
        self, packet: SyncPacket | DiscoveryPacket | ArtSync | None, address: str, now: float
    ) -> None:
        if isinstance(packet, SyncPacket):
            self.announcements.synchronize(packet.sync_address, now)
        elif isinstance(packet, DiscoveryPacket):
            self.announcements.announce(packet, address, now)


def _payload(arrivals: Arrivals, index: int) -> bytes:
    return arrivals.octets[index, : int(arrivals.lengths[index])].tobytes()
