"""Frames in pieces: none lost, none doubled, in order, over the time that was asked for."""

from typing import cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.display.patch import StreamKey
from streamer.engine.batch import Batch
from streamer.engine.pacing import PIECE_MOST_PACKETS, PIECE_PACKETS, SPREAD_S, Pacing
from tests.engine.bench import Bench, Sent, assert_unbroken, boathouse, play

PERIOD_S = 0.025


BATCH = cast("Batch", object())
"""It is handed on, and nothing is asked of it."""


def play_out(pacing: Pacing) -> list[tuple[float, list[int]]]:
    """Go from waking to waking until nothing waits; return which rows are to go when, a piece each."""
    sent: list[tuple[float, list[int]]] = []
    now_s = 0.0
    while (wake_s := pacing.wake_s) < float("inf"):
        now_s = max(now_s, wake_s)
        for taken, rows in pacing.take(now_s):
            assert taken is BATCH
            sent.append((now_s, rows.tolist()))
    return sent


@given(st.integers(0, 1200), st.one_of(st.none(), st.floats(0, 0.9)))
def test_every_packet_goes_once_in_order_and_within_the_part_of_the_frame(packets: int, share: float | None):
    """Whatever the share; a piece is never larger than what a small buffer takes."""
    pacing = Pacing(share)
    pacing.put([(BATCH, np.arange(packets))], 0.0, PERIOD_S)
    sent = play_out(pacing)
    assert [row for _, rows in sent for row in rows] == list(range(packets))
    over_s = share * PERIOD_S if share is not None else (SPREAD_S if packets > 100 else 0)
    assert all(at_s <= over_s + 1e-9 for at_s, _ in sent)
    if over_s:
        most = PIECE_PACKETS if packets <= 512 else PIECE_MOST_PACKETS
        assert all(len(rows) <= most for _, rows in sent)


@pytest.mark.parametrize(("packets", "moments"), [(100, 1), (101, 4), (512, 16), (1000, 16), (4000, 40)])
def test_more_than_a_hundred_packets_are_spread_by_default(packets: int, moments: int):
    """Pieces of 32 to 100 over 10 ms: measured, a burst of 1,000 loses 10 % in a default buffer."""
    pacing = Pacing(None)
    pacing.put([(BATCH, np.arange(packets))], 0.0, PERIOD_S)
    assert len({at_s for at_s, _ in play_out(pacing)}) == moments


def test_a_spread_run_keeps_every_sequence_whole_and_its_frames_apart():
    """E1.31-2018 6.2.5: one step a packet; what waits when the next frame comes goes first."""
    bench = Bench()
    display = boathouse(*range(1, 151))
    bench.start(play("walk", display, setup={"every_frame": True, "spread": 0.9}, pace=40.0))
    bench.pass_time(1.0)
    by_key: dict[StreamKey, list[Sent]] = {}
    for packet in bench.packets:
        by_key.setdefault(packet.key, []).append(packet)
    assert len(by_key) == 151
    for packets in by_key.values():
        numbers = [packet.sequence for packet in packets]
        assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
        assert len(numbers) in {40, 41}
    moments = sorted({packet.at_s for packet in bench.packets})
    assert len(moments) > 3 * 40


def test_ending_while_pieces_wait_darkens_and_terminates_every_stream():
    """What waits is dropped: the farewell sends every row, dark, and then three times terminated."""
    bench = Bench()
    run = bench.start(play("walk", boathouse(*range(1, 151)), setup={"every_frame": True, "spread": 0.9}))
    bench.pass_time(0.037)
    run.end("stopped", bench.now_s)
    last = bench.pass_time(1.0)
    ended = {packet.key for packet in last if packet.is_terminated}
    assert len(ended) == 150
    assert not any(any(packet.slots) for packet in last)
    assert_unbroken(bench.packets)
