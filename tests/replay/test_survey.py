"""What is in a capture, and whether lights would flash too often: WCAG 2.x, success criterion 2.3.1."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.capture.datagram import Datagram
from streamer.display.model import Protocol
from streamer.replay.survey import survey
from streamer.wire.artnet import ArtDmx, ArtSync
from streamer.wire.e131 import Options
from tests.replay.test_playing import CID, GROUP, art, levels

ON, OFF = b"\xff" * 6, bytes(6)


def blinking(times: int, period_ms: float, on: bytes = ON) -> Iterator[Datagram]:
    """Return so many flashes, one a period."""
    for count in range(times):
        yield levels(count * period_ms, 0, on)
        yield levels((count + 0.5) * period_ms, 0, OFF)


def test_streams_are_told_apart_by_source_and_universe():
    """And how long it lasts, and what else there is."""
    found = survey(
        [levels(0), levels(1_500, 2), art(2_000, ArtDmx(3, b"\x01\x02")), art(2_500, ArtSync())], 1.0
    )
    assert (found.packets, found.lasts_s) == (4, 2.5)
    told = {(each.protocol, each.source, each.universe, each.destination[0]) for each in found.streams}
    assert told == {(Protocol.E131, str(CID), 7, GROUP[0]), (Protocol.ARTNET, "192.0.2.1", 3, "10.0.0.20")}


def test_three_flashes_in_a_second_may_be_and_a_fourth_may_not():
    """The criterion's own number."""
    assert survey(blinking(3, 300), 1.0).flashes_from_s is None
    found = survey(blinking(4, 300), 1.0)
    assert found.flashes_from_s == pytest.approx(0.9)
    assert [str(each) for each in found.flashing] == ["universe 7"]


def test_one_slot_among_many_is_enough():
    """A blue light is one of a node's three."""
    assert survey(blinking(4, 300, b"\0\0\xff\0\0\0"), 1.0).flashes_from_s is not None


def test_speed_counts():
    """One flash in 0.4 s may be, the same three times as fast may not; and slower makes good."""
    assert survey(blinking(20, 400), 1.0).flashes_from_s is None
    assert survey(blinking(20, 400), 3.0).flashes_from_s is not None
    assert survey(blinking(20, 200), 0.5).flashes_from_s is None


def test_universes_in_turn_flash_together():
    """No slot does, all of them do: ten universes light up one after another, each seldom."""
    frames = (
        art(count * 100 + half, ArtDmx(count % 10, bytes([255 * (half == 0)]) * 512))
        for count in range(40)
        for half in (0, 50)
    )
    assert survey(frames, 1.0).flashes_from_s is not None


def test_previews_other_start_codes_and_ends_light_nothing():
    """ANSI E1.31-2018 clause 6.2.6, and ANSI E1.11 for START codes."""
    for more in (
        {"options": Options.PREVIEW_DATA},
        {"options": Options.STREAM_TERMINATED},
        {"start_code": 0xDD},
    ):
        frames = [levels(at * 50, 0, ON if at % 2 else OFF, **more) for at in range(40)]
        assert survey(frames, 1.0).flashes_from_s is None


@pytest.mark.slow
@given(st.lists(st.tuples(st.integers(0, 400), st.binary(min_size=2, max_size=8)), max_size=60))
def test_it_agrees_with_a_slow_count_of_rises(steps: list[tuple[int, bytes]]):
    """What is found safe has no slot that rises by its full swing more than three times in a second."""
    at_ms, frames = 0, []
    for gap_ms, slots in steps:
        at_ms += gap_ms
        frames.append((at_ms, slots.ljust(8, b"\0")))
    if survey([levels(at, 0, slots) for at, slots in frames], 1.0).flashes_from_s is not None:
        return
    for slot in range(8):
        rises = slow_rises([(at, slots[slot]) for at, slots in frames])
        assert all(later - earlier >= 1_000 for earlier, later in zip(rises, rises[3:], strict=False))


def slow_rises(values: list[tuple[int, int]]) -> list[int]:
    """Return when a slot rose from a trough to a crest, by all but the full swing: the plainest of rules.

    Full swings, 255, count whatever the peak is taken to be.
    """
    (
        rises,
        is_up,
    ) = [], False
    for at, value in values:
        if not is_up and value == 255:
            rises.append(at)
            is_up = True
        elif is_up and value == 0:
            is_up = False
    return rises
