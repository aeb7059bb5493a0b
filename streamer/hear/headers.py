"""Packets known by their headers: all but the sequence number and the slots says who sends what, and how.

A stream sends the same header again and again. The first of its kind is parsed; those that are the same,
octet for octet, are then as right as it was, and are recognised by the hundred without a loop.
"""

import secrets
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from streamer.display.model import Protocol
from streamer.net.arrivals import NAME_OCTETS, Arrivals
from streamer.wire import artnet, e131

WORD_OCTETS = 8
NAME_WORDS = NAME_OCTETS // WORD_OCTETS
INITIAL_ROOM = 256
NEW = -1
"""Stands for a header that is not known."""

Words = NDArray[np.uint64]
Numbers = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Shape:
    """Where a protocol's packets of levels have what."""

    sequence_octet: int
    slots_octet: int

    @property
    def words(self) -> int:
        """How many words of eight octets hold the header."""
        return -(-self.slots_octet // WORD_OCTETS)

    @property
    def mask(self) -> Words:
        """The bits of those words that belong to the header, without the sequence number."""
        octets = np.zeros(self.words * WORD_OCTETS, np.uint8)
        octets[: self.slots_octet] = 0xFF
        octets[self.sequence_octet] = 0
        return octets.view(np.uint64)


SHAPES = {
    Protocol.E131: Shape(e131.SEQUENCE_OCTET, e131.SLOTS_OCTET),
    Protocol.ARTNET: Shape(artnet.SEQUENCE_OCTET, artnet.SLOTS_OCTET),
}


class Headers:
    """The known headers of one protocol, each with a number from 0; the caller bounds how many."""

    def __init__(self, protocol: Protocol) -> None:
        self._shape = SHAPES[protocol]
        self._mask = self._shape.mask
        width = self._shape.words + NAME_WORDS + 1
        self._words: Words = np.zeros((INITIAL_ROOM, width), np.uint64)
        # Nobody can make headers that are taken for one another without knowing these.
        self._factors = np.frombuffer(secrets.token_bytes(width * WORD_OCTETS), np.uint64) | np.uint64(1)
        self._number_of: dict[int, int] = {}
        self._keys: list[int] = []
        self._free: list[int] = []
        self._limbo: list[int] = []

    def words(self, arrivals: Arrivals) -> Words:
        """Return what identifies each packet: its header, its sender, its length; one row each."""
        words = np.empty((len(arrivals), self._words.shape[1]), np.uint64)
        count = self._shape.words
        np.bitwise_and(arrivals.octets.view(np.uint64)[:, :count], self._mask, out=words[:, :count])
        words[:, count : count + NAME_WORDS] = arrivals.names.view(np.uint64)
        words[:, -1] = arrivals.lengths
        return words

    def find(self, words: Words) -> Numbers:
        """Return the number of each header, NEW where it is not known."""
        get = self._number_of.get
        found = np.array([get(key, NEW) for key in self._hashes(words).tolist()], np.intp)
        same = (self._words[found] == words).all(axis=1)
        return np.where(same, found, NEW)

    def add(self, words: Words) -> int:
        """Know one more header, and return its number."""
        number = self._free.pop() if self._free else self._new_number()
        key = int(self._hashes(words[None])[0])
        self._words[number] = words
        self._number_of[key] = number
        self._keys[number] = key
        return number

    def forget(self, number: int) -> None:
        """Know a header no longer; its number is given to another after the next `release`."""
        if self._number_of.get(self._keys[number]) == number:
            del self._number_of[self._keys[number]]
        self._words[number] = 0
        self._limbo.append(number)

    def release(self) -> list[int]:
        """Return the numbers forgotten since the last call; from now on they may be given away again."""
        forgotten, self._limbo = self._limbo, []
        self._free += forgotten
        return forgotten

    def _new_number(self) -> int:
        number = len(self._keys)
        self._keys.append(0)
        if number >= len(self._words):
            self._words = np.concatenate([self._words, np.zeros_like(self._words)])
        return number

    def _hashes(self, words: Words) -> Words:
        return np.asarray((words * self._factors).sum(axis=1, dtype=np.uint64))
