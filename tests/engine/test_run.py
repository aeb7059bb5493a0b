"""A run, from its first packet to its last, as receivers see it: under a fake clock, through the codecs."""

import numpy as np
import pytest

from streamer.display.model import Protocol
from streamer.engine.messages import State
from tests.engine.bench import JETTY, Bench, assert_unbroken, boathouse, is_dark, play, port, read, shows


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
    """E1.31-2018 6.2.6 and 6.7.1: three per universe, numbered on; before them the dark frame."""
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


def test_discovery_lists_the_universes_every_ten_seconds(bench: Bench):
    """E1.31-2018 4.3 and 8: sorted, each once, E1.31 alone."""
    bench.start(play("level", boathouse(12, 10)))
    bench.pass_time(25)
    assert [at_s for at_s, _ in bench.lists] == [1000, 1010, 1020]
    assert {packet.universes for _, packet in bench.lists} == {(10, 12)}


def test_a_changed_list_is_told_once_between_two_sets_and_no_more(bench: Bench):
    """E1.31-2018 4.3: at most one extra set in an interval, however often the list changes in it."""
    bench.start(play("level", boathouse(12, 10)))
    bench.pass_time(5)
    for pattern in ("probe", "level", "probe"):
        shows(bench, pattern)
        bench.pass_time(1)
    bench.pass_time(5)
    assert [(round(at_s), packet.universes) for at_s, packet in bench.lists] == [
        (1000, (10, 12)),
        (1005, (9, 10, 11, 12, 13)),
        (1010, (9, 10, 11, 12, 13)),
    ]


def test_runs_that_follow_each_other_share_one_discovery(bench: Bench):
    """E1.31-2018 4.3: forty starts in 4 s of the same universes are one set."""
    for _ in range(40):
        bench.start(play("level", boathouse(12, 10)))
        bench.pass_time(0.1)
    assert len(bench.lists) == 1


def test_a_run_in_place_of_another_keeps_the_gap_between_frames(bench: Bench):
    """E1.31-2018 6.6.1: its first frame waits for the moment of the next frame of the one before."""
    for _ in range(4):
        bench.start(play("walk", setup={"every_frame": True}))
        bench.pass_time(0.11)
    sent = [packet.at_s for packet in bench.packets if packet.key == bench.packets[0].key]
    assert np.diff(sent).min() >= 1 / 44


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


def test_the_newest_frame_is_of_the_planned_nodes_alone(bench: Bench):
    """While a probe lights the neighbours, a screen still sees the display it knows."""
    run = bench.start(play("probe", boathouse(10, 12)))
    bench.tick()
    shows(bench, "probe", level_percent=50)
    bench.pass_time(2)
    assert len(bench.window.frames) == 2
    for frame in bench.window.frames:
        assert frame.nodes.shape == (run.stage.nodes, 4) == (100, 4)
        assert frame.channels.shape == (run.stage.channels,) == (2,)


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
    assert JETTY in " ".join(run.complaints.now)


def test_packets_are_what_the_codecs_read(bench: Bench):
    """Every octet string that goes out parses, from the first to the last."""
    run = bench.start(play("tint", setup={"source_name": "Bootshaus am See ☂"}))
    bench.tick()
    run.tick(bench.now_s + 0.025)
    for octets, (address, _) in bench.data.sent:
        assert read(octets, address, 0.0)
