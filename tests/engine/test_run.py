"""A run, from its first packet to its last, as receivers see it: under a fake clock, through the codecs."""

import numpy as np
import pytest

from streamer.display.model import Protocol
from streamer.engine.messages import Show, State
from streamer.errors import PlanError
from tests.engine.bench import JETTY, Bench, assert_unbroken, boathouse, play, port, read


def shows(bench: Bench, pattern: str, **show: object) -> None:
    """Change to a pattern, at the present moment."""
    bench.runs[-1].change(Show(**{"pattern": pattern, "level_percent": 100, **show}), bench.now_s)


def is_dark(slots: bytes) -> bool:
    """Say whether every slot is zero."""
    return not any(slots)


def test_every_universe_is_sent_at_once_with_the_picture(bench: Bench):
    """Two E1.31 universes and an Art-Net Port-Address, each to its controller."""
    bench.start(play("level"))
    bench.tick()
    assert {(p.key.protocol, p.key.address, p.key.universe) for p in bench.packets} == {
        (Protocol.E131, JETTY, 1),
        (Protocol.E131, JETTY, 2),
        (Protocol.ARTNET, "127.0.0.2", 7),
    }
    assert all(p.slots[:150] == bytes([255] * 150) for p in bench.packets if p.key.protocol is Protocol.E131)


def test_a_still_picture_is_quiet(bench: Bench):
    """E1.31-2018 6.6.2: four packets, then one every 800 to 1000 ms; in ten seconds that is 15 packets."""
    bench.start(play("level"))
    bench.pass_time(10)
    moments = [packet.at_s for packet in bench.of(1)]
    gaps = np.diff(moments)
    assert np.allclose(gaps[:3], 0.025)
    assert ((gaps[3:] >= 0.8) & (gaps[3:] <= 1.0)).all()
    assert len(moments) == 15


@pytest.mark.parametrize("rate_hz", [1, 2, 10, 40, 44])
def test_no_universe_is_ever_quiet_for_more_than_a_second(bench: Bench, rate_hz: float):
    """At any frame rate, with a pattern that moves and stands still by turns."""
    bench.start(play("walk", pace=0.3, rate_hz=rate_hz))
    bench.pass_time(30)
    for universe in (1, 2, 7):
        assert np.diff([packet.at_s for packet in bench.of(universe)]).max() <= 1.0
    assert_unbroken(bench.packets)


def test_artnet_sequences_run_from_1_to_255_and_leave_out_0(bench: Bench):
    """Art-Net 4, ArtDmx: 0 would switch ordering off."""
    bench.start(play("level", setup={"every_frame": True}))
    bench.pass_time(7)
    sequences = [packet.sequence for packet in bench.of(7)]
    assert sequences[:2] == [1, 2]
    assert sequences[253:257] == [254, 255, 1, 2]
    assert 0 not in sequences


def test_a_controller_without_ordering_always_gets_sequence_0(bench: Bench):
    """Art-Net 4, ArtDmx: 0 says that packets are not numbered."""
    display = boathouse()
    jetty, slipway = display.controllers
    plain = display.model_copy(
        update={"controllers": (jetty, slipway.model_copy(update={"sequence": False}))}
    )
    bench.start(play("level", plain))
    bench.pass_time(3)
    assert {packet.sequence for packet in bench.of(7)} == {0}


@pytest.mark.parametrize("ending", ["level", "in hand", "dark", "time", "twice", "mid probe"])
def test_however_it_ends_the_lights_go_dark_and_three_terminated_packets_follow(bench: Bench, ending: str):
    """E1.31-2018 6.2.6 and 6.7.1: exactly three per universe, numbered on; before them the dark frame, often."""
    run = bench.start(play("walk", setup={"seconds": 1.0} if ending == "time" else None))
    bench.pass_time(0.9)
    if ending == "in hand":
        run.player.jump(5)
    elif ending == "dark":
        run.player.dark = True
    elif ending == "mid probe":
        shows(bench, "probe")
    bench.pass_time(0.05)
    if ending != "time":
        run.end("stopped", bench.now_s)
        assert run.state is State.ENDING
    if ending == "twice":
        bench.pass_time(0.03)
        run.end("stopped again", bench.now_s)
    bench.pass_time(2)
    assert run.is_over
    assert run.ending_reason == ("time is up" if ending == "time" else "stopped")
    for key in {packet.key for packet in bench.packets}:
        last = [packet for packet in bench.packets if packet.key == key]
        terminated = [packet for packet in last if packet.is_terminated]
        if key.protocol is Protocol.E131:
            assert last[-3:] == terminated
        dark = last[-7:-3] if key.protocol is Protocol.E131 else last[-4:]
        assert all(is_dark(packet.slots) for packet in (*dark, *terminated))
    assert_unbroken(bench.packets)


def test_last_packets_keep_to_the_rate_that_dmx_allows(bench: Bench):
    """E1.31-2018 6.6.1 and E1.11: not more than 44 a second to a universe, once the dark frame is out."""
    run = bench.start(play("walk"))
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    last = bench.pass_time(1)
    assert np.diff([packet.at_s for packet in last if packet.key.universe == 1])[1:].min() >= 1 / 44


def test_sequences_go_on_across_changes_of_everything(bench: Bench):
    """E1.31-2018 6.2.5: pattern, level, rate, ports, step, dark: one counter, no gap."""
    run = bench.start(play("walk"))
    for change in (
        {"pattern": "walk", "level_percent": 20},
        {"pattern": "walk", "level_percent": 20, "rate_hz": 10},
        {"pattern": "count", "rate_hz": 44, "ports": ("jetty/2",)},
        {"pattern": "level", "rate_hz": 1},
        {"pattern": "order"},
    ):
        bench.pass_time(1.3)
        run.change(Show(**change), bench.now_s)
    run.player.dark = True
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    bench.pass_time(1)
    assert_unbroken(bench.packets)
    assert {packet.key.universe for packet in bench.packets} == {1, 2, 7}


def test_a_change_to_neighbours_shows_no_dark_frame_and_leaves_no_gap(bench: Bench):
    """From a level to a probe of universes 10 and 11, between two frames of a slow run."""
    bench.start(play("level", boathouse(10, 11), rate_hz=2))
    bench.pass_time(5.2)
    shows(bench, "probe", rate_hz=2)
    bench.pass_time(5)
    for universe in (10, 11):
        sent = bench.of(universe)
        assert not any(is_dark(packet.slots) for packet in sent)
        assert np.diff([packet.at_s for packet in sent]).max() <= 1.0
    assert {packet.key.universe for packet in bench.packets} == {6, 7, 8, 9, 10, 11, 12}
    assert_unbroken(bench.packets)


def test_neighbours_that_leave_get_dark_and_three_terminated_and_the_rest_nothing_of_it(bench: Bench):
    """From the probe to a level: 9, 11 and 13 end, 10 and 12 never flinch."""
    bench.start(play("probe", boathouse(10, 12)))
    bench.pass_time(3.01)
    shows(bench, "level")
    after = bench.pass_time(3)
    for universe in (9, 11, 13):
        last = [packet for packet in after if packet.key.universe == universe]
        assert [packet.is_terminated for packet in last] == [False] * 4 + [True] * 3
        assert all(is_dark(packet.slots) for packet in last)
    for universe in (10, 12):
        lasting = [packet for packet in after if packet.key.universe == universe]
        assert not any(packet.is_terminated or is_dark(packet.slots) for packet in lasting)
        assert np.diff([packet.at_s for packet in bench.of(universe)]).max() <= 1.0
    assert_unbroken(bench.packets)


@pytest.mark.parametrize("pause_s", [0.0, 0.03, 0.09, 0.12, 1.0])
def test_neighbours_that_come_back_during_their_farewell_go_on_counting(bench: Bench, pause_s: float):
    """Probe, level, probe: from then on no more of the farewell, and no number twice."""
    bench.start(play("probe", boathouse(10, 12)))
    bench.pass_time(1)
    shows(bench, "level")
    bench.pass_time(pause_s)
    shows(bench, "probe")
    back = bench.pass_time(3)
    assert not any(packet.is_terminated for packet in back)
    assert {9, 11, 13} <= {packet.key.universe for packet in back}
    assert_unbroken(bench.packets)


def test_the_state_of_hand_and_dark_outlasts_a_change_to_neighbours(bench: Bench):
    """A person who has the lights dark, or the pattern in hand, keeps it so."""
    run = bench.start(play("walk"))
    run.player.in_hand = run.player.dark = True
    shows(bench, "probe")
    assert run.state is State.DARK
    run.player.dark = False
    assert run.state is State.IN_HAND


def test_a_run_that_replaces_another_takes_its_streams_over(bench: Bench):
    """No dark frame and no terminated packet on universe 1; universe 2 leaves as it should; 3 begins."""
    bench.start(play("level", boathouse(1, 2)))
    bench.pass_time(2.01)
    bench.start(play("level", boathouse(1, 3), level_percent=50))
    after = bench.pass_time(2)
    assert not any(is_dark(packet.slots) or packet.is_terminated for packet in bench.of(1))
    assert [p.is_terminated for p in after if p.key.universe == 2] == [False] * 4 + [True] * 3
    assert any(packet.key.universe == 3 for packet in after)
    assert np.diff([packet.at_s for packet in bench.of(1)]).max() <= 1.0
    assert bench.runs[0].is_over
    assert_unbroken(bench.packets)


def test_streams_handed_from_run_to_run_and_back_go_on_counting(bench: Bench):
    """Universe 2 leaves and returns while it is being said farewell to."""
    for display in (boathouse(1, 2), boathouse(1, 3), boathouse(1, 2), boathouse(2)):
        bench.start(play("walk", display))
        bench.pass_time(0.06)
    bench.pass_time(3)
    assert_unbroken(bench.packets)
    assert not bench.of(2)[-1].is_terminated
    assert bench.of(3)[-1].is_terminated


def test_a_run_to_another_destination_ends_the_streams_to_the_old_one(bench: Bench):
    """The same universe at another address is another stream."""
    bench.start(play("level", boathouse(1)))
    bench.pass_time(1)
    display = boathouse(1)
    jetty, slipway = display.controllers
    moved = jetty.model_copy(update={"address": "127.0.0.9"})
    bench.start(play("level", display.model_copy(update={"controllers": (moved, slipway)})))
    bench.pass_time(1)
    old = [packet for packet in bench.of(1) if packet.key.address == JETTY]
    new = [packet for packet in bench.of(1) if packet.key.address == "127.0.0.9"]
    assert [packet.is_terminated for packet in old[-4:]] == [False, True, True, True]
    assert not any(packet.is_terminated or is_dark(packet.slots) for packet in new)


def test_a_run_after_the_end_of_another_goes_on_counting(bench: Bench):
    """Stopped and started again, the sequence does not jump back (6.2.5)."""
    run = bench.start(play("walk"))
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    bench.pass_time(1)
    bench.start(play("walk"))
    bench.pass_time(1)
    assert_unbroken(bench.packets)


def test_starting_and_stopping_cannot_be_used_to_flash(bench: Bench):
    """The guard remembers from run to run: a fourth start in a second shows its picture later."""
    lit = []
    for _ in range(6):
        run = bench.start(play("level"))
        bench.pass_time(0.03)
        lit.append(not is_dark(bench.of(1)[-1].slots))
        run.end("stopped", bench.now_s)
        bench.pass_time(0.12)
    assert lit == [True, True, True, False, False, False]


def test_discovery_lists_the_universes_every_ten_seconds_and_follows_a_change(bench: Bench):
    """E1.31-2018 4.3 and 8: sorted, each once, E1.31 alone; the next list after a change is the new one."""
    bench.start(play("level", boathouse(12, 10)))
    bench.pass_time(15)
    shows(bench, "probe")
    bench.pass_time(10)
    assert [at_s for at_s, _ in bench.lists] == [1000, 1010, 1020]
    assert [packet.universes for _, packet in bench.lists] == [(10, 12), (10, 12), (9, 10, 11, 12, 13)]


def test_more_than_512_universes_fill_two_pages_of_discovery(bench: Bench):
    """E1.31-2018 8.3 to 8.5: pages 0 and 1 of last page 1."""
    display = boathouse()
    ports = tuple(port(number, number, 1) for number in range(1, 601))
    jetty = display.controllers[0].model_copy(update={"ports": ports})
    bench.start(play("level", display.model_copy(update={"controllers": (jetty,)})))
    bench.tick()
    pages = [(packet.page, packet.last_page, len(packet.universes)) for _, packet in bench.lists]
    assert pages == [(0, 1, 512), (1, 1, 88)]


def test_after_a_pause_of_the_process_nothing_comes_in_a_burst(bench: Bench):
    """Stopped for a minute: one frame, one keep-alive a stream, one discovery; the rest is counted."""
    run = bench.start(play("level"))
    bench.pass_time(5)
    bench.now_s += 60
    before = len(bench.packets), len(bench.lists)
    bench.tick()
    assert len(bench.packets) - before[0] == 3
    assert len(bench.lists) - before[1] == 1
    assert 2390 <= run.counts().skipped <= 2401
    after = bench.pass_time(0.5)
    assert len(after) == 0


@pytest.mark.parametrize(
    "change",
    [
        {"pattern": "nothing"},
        {"pattern": "probe", "params": {"nothing": 1}},
        {"pattern": "probe", "ports": ("x",)},
    ],
)
def test_a_change_that_is_refused_changes_nothing(bench: Bench, change: dict):
    """The streams, the pattern and the counters go on, even where the change would have laid all out anew."""
    run = bench.start(play("walk"))
    bench.pass_time(1)
    with pytest.raises((PlanError, ValueError)):
        run.change(Show(**change), bench.now_s)
    bench.pass_time(1)
    assert run.show.pattern == run.player.show.pattern == "walk"
    assert {packet.key.universe for packet in bench.packets} == {1, 2, 7}
    assert_unbroken(bench.packets)


def test_the_newest_frame_is_of_the_planned_nodes_alone(bench: Bench):
    """While a probe lights the neighbours, a screen still sees the display it knows."""
    run = bench.start(play("probe", boathouse(10, 12)))
    bench.tick()
    assert run.newest is not None
    assert run.newest.nodes.shape == (run.nodes, 4) == (100, 4)
    assert run.newest.channels.shape == (run.channels,) == (2,)


def test_a_display_of_fixtures_alone_is_played(bench: Bench):
    """No node, only the channels of a flood."""
    display = boathouse()
    floods = display.model_copy(update={"controllers": display.controllers[1:]})
    run = bench.start(play("fixtures", floods))
    bench.pass_time(1)
    run.end("stopped", bench.now_s)
    bench.pass_time(1)
    assert run.is_over
    assert {packet.key.universe for packet in bench.packets} == {7}


def test_counts_are_of_what_was_sent(bench: Bench):
    """Frames, packets, octets; a refusal by the operating system by its name."""
    bench.data.failures[JETTY, 5568] = 101
    run = bench.start(play("level"))
    bench.pass_time(1)
    counts = run.counts()
    assert counts.frames in (40, 41)
    assert counts.packets == len(bench.of(7))
    assert counts.errors["ENETUNREACH"] > 0
    assert JETTY in run.last_error


def test_packets_are_what_the_codecs_read(bench: Bench):
    """Every octet string that goes out parses, from the first to the last."""
    run = bench.start(play("tint", setup={"source_name": "Bootshaus am See ☂"}))
    bench.tick()
    run.tick(bench.now_s + 0.025)
    for octets, (address, _) in bench.data.sent:
        assert read(octets, address, 0.0)
