"""`ropewalk send`: what its options promise, seen in the packets that arrive and in its exit code."""

from pathlib import Path

import pytest

from streamer.cli.outcome import status_text
from streamer.cli.sending import last_tick_s
from streamer.display.sample import SAMPLE_NAME
from streamer.engine.messages import Dimmed, State, Status
from streamer.wire import e131
from tests.cli.conftest import ADDRESS, Ear, run

SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME
WHOLE = ("--to", ADDRESS, "--seconds", "0.4")
UNIVERSE_KEYS = {"protocol", "universe", "text", "address"}


def test_the_universes_of_a_range_arrive_at_the_level_asked_for_and_end_dark(ear: Ear):
    """1-2,7 at 50 %: 127 of 255, rounded down; then dark, then three terminations (E1.31-2018 6.2.6)."""
    done = run("send", "level", "-u", "1-2,7", "--level", "50", "--priority", "150", *WHOLE)
    packets = ear.heard()
    assert done.code == 0, done.err
    assert {packet.universe for packet in packets} == {1, 2, 7}
    assert {packet.priority for packet in packets} == {150}
    for universe in (1, 2, 7):
        own = [packet for packet in packets if packet.universe == universe]
        assert own[0].slots[:510] == bytes([127]) * 510
        assert [bool(packet.options & e131.Options.STREAM_TERMINATED) for packet in own[-4:]] == [
            *(False, True, True, True)
        ]
        assert not any(own[-4].slots)
    assert "on 3 universes" in done.out
    assert "Leaves by lo" in done.out


def test_port_addresses_count_from_0_and_are_shown_both_ways(artnet_ear: Ear):
    """Art-Net 4, Port-Address: 0:1:3 is 19. E1.31 counts from 1, Art-Net from 0."""
    done = run("send", "level", "-u", "0,0:1:3", "--protocol", "artnet", "-p", "colour=red", *WHOLE)
    packets = artnet_ear.heard()
    assert done.code == 0, done.err
    assert {packet.port_address for packet in packets} == {0, 19}
    assert packets[0].slots[:6] == bytes([76, 0, 0, 76, 0, 0])
    assert not any(packets[-1].slots)
    assert f"Port-Address 19 (0:1:3) to {ADDRESS}" in done.out


def test_the_json_has_keys_that_stay_and_numbers_without_a_tail(ear: Ear):
    """One object on one line; standard error is empty."""
    done = run("send", "walk", "-u", "5", "--rate", "30", "-p", "window=3", "--json", *WHOLE)
    outcome = done.json
    assert done.code == 0
    assert done.err == ""
    assert done.out.count("\n") == 1
    assert list(outcome) == [
        *("ok", "run", "pattern", "params", "level_percent", "rate_hz", "flashes_per_s"),
        *("route", "synchronization"),
        *("universes", "ended", "conflicts", "unheard"),
    ]
    assert outcome["ok"] is True
    assert outcome["params"]["window"] == 3
    assert set(outcome["universes"][0]) == UNIVERSE_KEYS
    ended = outcome["ended"]
    assert set(ended) == {
        *("reason", "counts", "lateness", "seconds", "complaints", "ways", "cpu_share", "scheduling"),
        "carrier_lost",
    }
    assert ended["reason"] == "time is up"
    bins = ended["lateness"].pop("bins")
    assert all(isinstance(us, int) for us in ended["lateness"].values())
    assert sum(each["frames"] for each in bins) == ended["counts"]["frames"]
    assert (ended["complaints"], ended["carrier_lost"]) == ([], False)
    assert ended["counts"]["packets"] == len(ear.heard())


def test_every_frame_sends_what_does_not_change(ear: Ear):
    """At 40 frames a second for 0.4 s: sixteen, fewer on a busy machine; a still picture would need four."""
    run("send", "level", "-u", "1", "--every-frame", *WHOLE)
    lit = [packet for packet in ear.heard() if any(packet.slots)]
    assert 4 < len(lit) <= 17


def test_a_display_file_can_be_sent_elsewhere_and_one_port_of_it_alone(ear: Ear):
    """--to takes the place of the file's addresses; the other ports stay dark."""
    done = run("send", "level", SAMPLE, "--only", "boathouse/5", *WHOLE)
    packets = ear.heard()
    assert done.code == 0, done.err
    assert {packet.universe for packet in packets} == {11, 12, 13, 14}
    assert {packet.universe for packet in packets if any(packet.slots)} == {13}


def test_multicast_can_be_kept_on_this_machine_and_then_needs_no_caution():
    """With the interface pinned to loopback nothing leaves; the caution is for real lights."""
    done = run("send", "level", "-u", "63999", "--interface", "lo", "--seconds", "0.2")
    assert done.code == 0
    assert "to multicast" in done.out
    assert "Caution" not in done.err


def test_what_probe_lights_beside_the_plan_is_said():
    """Universe 5 alone has the neighbours 4 and 6."""
    done = run("send", "probe", "-u", "5", *WHOLE)
    assert "also lights 2 universes next to yours" in done.err
    assert "universe 4" in done.out


@pytest.mark.rig
def test_two_runs_on_one_universe_are_refused_unless_told(ear: Ear):
    """E1.31-2018 6.2.3: what a receiver makes of two sources of one priority is up to its maker."""
    first = run("send", "level", "-u", "1-3", "--to", ADDRESS, "--free", "--json")
    name = first.json["run"]
    assert first.json["ended"] is None
    assert name in run("runs").out
    assert set(run("runs", "--json").json) == {name}
    refused = run("send", "level", "-u", "3", "--json", *WHOLE)
    assert refused.code == 1
    assert refused.json["ok"] is False
    assert f"ropewalk stop {name}" in refused.err
    assert run("send", "level", "-u", "4", *WHOLE).code == 0
    assert run("send", "level", "-u", "3", "--anyway", *WHOLE).code == 0
    stopped = run("stop")
    assert stopped.code == 0
    assert stopped.out.startswith(f"{name}: stopped;")
    last = [packet for packet in ear.heard() if packet.universe == 1][-1]
    assert last.options & e131.Options.STREAM_TERMINATED
    assert run("stop").code == 1


@pytest.mark.rig
@pytest.mark.parametrize("is_group_first", [True, False])
def test_a_run_to_groups_and_one_to_a_controller_are_rivals(*, is_group_first: bool):
    """A receiver takes both (ANSI E1.31-2018 clause 9); the refusal names both. Another universe is free."""
    by_group, to_one = ("--interface", "lo"), ("--to", ADDRESS)
    first, second = (by_group, to_one) if is_group_first else (to_one, by_group)
    name = run("send", "level", "-u", "63990", *first, "--free", "--json").json["run"]
    refused = run("send", "level", "-u", "63989,63990", *second, "--seconds", "0.2")
    assert run("send", "level", "-u", "63989", *second, "--seconds", "0.2").code == 0
    run("stop", name)
    assert refused.code == 1
    for said in (f"{name} already sends universe 63990", ADDRESS, "multicast", f"ropewalk stop {name}"):
        assert said in refused.err


@pytest.mark.parametrize("what", ["--protocol", "--nodes"])
def test_what_the_file_says_itself_is_passed_over_aloud(what: str):
    """An option that does nothing must not look as if it did."""
    value = {"--protocol": "e131", "--nodes": "50"}[what]
    assert f"{what} is for -u" in run("send", "level", SAMPLE, what, value, *WHOLE).err


FUSED = f"""
name = "Boathouse"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "{ADDRESS}"
  [[controllers.ports]]
  number = 1
  universe = 1
  nodes = 100
  node_kind = "5 V constant current"
  fuse = 5
"""


def test_a_fuse_in_the_file_dims_what_is_sent_and_the_end_says_so(ear: Ear, tmp_path: Path):
    """100 nodes of 1 + 3 x 18.5 mA under 80 % of 5 A: (4 - 0.1) / 5.55 of 255 is 179.2, rounded down."""
    file = tmp_path / "boathouse.toml"
    file.write_text(FUSED)
    done = run("send", "level", str(file), "--level", "100", "--seconds", "0.4", "--json")
    packets = ear.heard()
    assert done.code == 0, done.err
    assert packets[0].slots[:300] == bytes([179]) * 300
    counts = done.json["ended"]["counts"]
    assert counts["dimmed"] == counts["frames"]


def test_the_moments_line_says_what_is_dimmed():
    """Which port, to how much, and between which currents."""
    dimmed = Dimmed(name="shed", is_supply=True, asked_a=4.8, limit_a=3.2, percent=65.6)
    said = status_text(Status(state=State.RUNNING, now_showing="white", dimmed=(dimmed,)))
    assert said.endswith("dimmed for its current: supply shed to 66 % (3.2 of 4.8 A)")


@pytest.mark.parametrize(
    ("words", "limit", "says"),
    [
        ((), 1, "No light flashes more than once in any second."),
        (("--flashes", "3"), 1, "No light flashes more than once"),
        (("--flashes", "5", "--understood", "seizures"), 5, "Caution: lights may flash 5 times in a second"),
    ],
)
@pytest.mark.rig
def test_how_often_lights_may_flash_is_said_where_it_is_not_as_usual(
    ear: Ear, tmp_path: Path, words: tuple[str, ...], limit: int, says: str
):
    """In words and in JSON: the file's limit holds unless the word is typed."""
    file = tmp_path / "boathouse.toml"
    file.write_text(f"flashes_per_s = 1\n{FUSED}")
    send = ("send", "level", str(file), *words, "--seconds", "0.1")
    assert says in run(*send).err
    assert run(*send, "--json").json["flashes_per_s"] == limit
    assert ear.heard()


@pytest.mark.parametrize("words", [("--spread", "0.5"), ("--every-frame",)])
def test_what_would_hide_the_losses_of_a_burst_is_refused(words: tuple[str, ...]):
    """Spread it is no burst, and repeated it brings what was lost."""
    done = run("send", "burst", "-u", "1-8", *words, *WHOLE)
    assert done.code == 2
    assert f"{words[0]}: burst sends each picture once and all at one moment" in done.err


def test_a_burst_is_told_by_its_size(ear: Ear):
    """What to look for, once a second, while it grows."""
    done = run("send", "burst", "-u", "1-8", "--to", ADDRESS, "--seconds", "1.5")
    assert done.code == 0, done.err
    assert "burst of 2 of 8 packets to each controller: their lights all green" in done.out
    assert {packet.universe for packet in ear.heard() if any(packet.slots)} == {1, 2}


@pytest.mark.parametrize(("now_s", "told_s"), [(11.0, 11.0), (11.25, 11.0), (17.75, 17.0)])
def test_who_stood_still_tells_one_line_and_goes_on_in_even_steps(now_s: float, told_s: float):
    """Told at 10.0, one line a second: held until 17.75, the next one is due at 18.0."""
    assert last_tick_s(10.0, now_s) == told_s
