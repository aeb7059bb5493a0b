"""Pictures that are kept: no more than there is room for."""

import tracemalloc

import pytest

from streamer.display.patch import compile_patch
from streamer.engine.messages import Show
from streamer.engine.player import KEPT_OCTETS, Player
from streamer.engine.recent import OVERHEAD_OCTETS, Recent
from tests.engine.bench import boathouse

RATE_HZ = 40


@pytest.mark.parametrize("lights", [1, 50_000])
def test_of_pictures_in_short_no_more_are_kept_than_there_is_room_for(lights: int):
    """One light after the other of a large display would be as many pictures as it has lights."""
    recent: Recent[bytes] = Recent(KEPT_OCTETS)
    tracemalloc.start()
    try:
        for step in range(10_000):
            recent.keep(step, bytes(lights), lights)
        kept = tracemalloc.get_traced_memory()[0]
    finally:
        tracemalloc.stop()
    assert kept < KEPT_OCTETS
    assert recent.at(0) is None
    assert recent.at(9_999) == bytes(lights)


def test_a_walk_through_a_thousand_lights_keeps_what_it_says():
    """A picture in short is some objects, each of which takes more than the one light that is lit."""
    layout = compile_patch(boathouse(*range(1, 41))).layout
    player = Player(layout, Show(pattern="walk", params={"together": False}, pace=40.0), 0.0)
    tracemalloc.start()
    try:
        player.briefs([step / RATE_HZ for step in range(80)])
        first = tracemalloc.get_traced_memory()[0]
        told = player.briefs([step / RATE_HZ for step in range(1_080)])
        del told
        one = (tracemalloc.get_traced_memory()[0] - first) / 1_000
    finally:
        tracemalloc.stop()
    assert one < OVERHEAD_OCTETS
