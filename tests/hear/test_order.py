"""Many packets at once are judged as they would be one after another: E1.31-2018 clauses 6.2.5 and 6.7."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.model import Protocol
from streamer.hear.ledger import Ledger
from streamer.hear.order import RULES
from tests.hear.bench import arrivals

STEPS_S = (0.0, 0.001, 0.025, 0.4, 0.5, 2.4, 2.5, 3.0)
PACKETS = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 255), st.sampled_from(STEPS_S)), max_size=60)
NUMBERS = {Protocol.E131: 256, Protocol.ARTNET: 255}
TIMEOUT_S = {Protocol.E131: 2.5, Protocol.ARTNET: 0.5}
"""6.7.1; for Art-Net the time that `artnet_reception` gives its reasons for."""


class OneByOne:
    """The rules of ANSI E1.31-2018 clauses 6.2.5 and 6.7.2 as they stand there, written out once more."""

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self.last: dict[int, tuple[int, float]] = {}
        self.counts: dict[int, list[int]] = {}
        self.missing: dict[int, set[int]] = {}

    def take(self, stream: int, number: int, now: float) -> None:
        """Count a packet: in order, missing before it, out of order."""
        counts, missing = self.counts.setdefault(stream, [0, 0, 0]), self.missing.setdefault(stream, set())
        known = self.last.get(stream)
        if known is None or self._is_free(known, number, now):
            missing.clear()
        else:
            step = (number - known[0]) % NUMBERS[self.protocol]
            if step >= (NUMBERS[self.protocol] + 1) // 2:
                step -= NUMBERS[self.protocol]
            if -20 < step <= 0:
                counts[2] += 1
                # RFC 3550 clause 6.4.1: what comes late was not lost.
                counts[1] -= number in missing
                missing.discard(number)
                return
            if step <= -20:
                missing.clear()
            counts[1] += max(step - 1, 0)
            begins_at = 1 if self.protocol is Protocol.ARTNET else 0
            missing |= {
                (known[0] + ahead - begins_at) % NUMBERS[self.protocol] + begins_at
                for ahead in range(1, step)
            }
            missing -= self._left_behind(number)
        counts[0] += 1
        self.last[stream] = number, now

    def _left_behind(self, number: int) -> set[int]:
        """Return the numbers that would be taken for a source that started again: 20 and more before."""
        near = {(number - back) % NUMBERS[self.protocol] for back in range(20)}
        return {each for each in range(256) if each % NUMBERS[self.protocol] not in near}

    def _is_free(self, known: tuple[int, float], number: int, now: float) -> bool:
        is_unordered = self.protocol is Protocol.ARTNET and 0 in {known[0], number}
        return is_unordered or now - known[1] >= TIMEOUT_S[self.protocol]


@pytest.mark.parametrize("protocol", Protocol)
@given(PACKETS, st.data())
def test_any_packets_in_any_portions_are_counted_by_the_rules(
    protocol: Protocol, packets: list[tuple[int, int, float]], data: st.DataObject
):
    """Four streams, any numbers, any gaps, read at once or in pieces."""
    ledger, wanted, now = Ledger(RULES[protocol]), OneByOne(protocol), 1000.0
    rows = [ledger.add(0) for _ in range(4)]
    timed = []
    for stream, number, step_s in packets:
        now += step_s
        timed.append((stream, number, now))
        wanted.take(stream, number, now)
    while timed:
        size = data.draw(st.integers(1, len(timed)))
        portion, timed = timed[:size], timed[size:]
        ledger.note(
            np.array([rows[stream] for stream, _, _ in portion], np.intp),
            arrivals([(b"", "10.61.0.2", heard_s) for _, _, heard_s in portion]),
            np.array([number for _, number, _ in portion], np.intp),
            np.zeros(size, np.bool_),
        )
    for stream, counts in wanted.counts.items():
        row = rows[stream]
        told = [int(each[row]) for each in (ledger.packets, ledger.lost, ledger.out_of_order)]
        assert told == counts
