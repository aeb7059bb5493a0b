"""A night run over a cable between two hosts, with faults: what the journal says, and what really arrived."""

import os
import select
import shutil
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from streamer.cli.soaking import run_name
from streamer.engine.client import attach, client_name
from streamer.engine.messages import Dark, State, Status, TakeControl
from streamer.engine.waiting import wait_for
from streamer.soak.journal import journal_path, reading
from streamer.soak.records import EndReason, EventKind
from tests.rig import faults
from tests.rig.cable import Cable
from tests.rig.faults import have
from tests.rig.files import e131_string
from tests.rig.night_rig import DISPLAY, LAWN_SECOND_S, LIMIT_S, NightRig, night_rig

pytestmark = pytest.mark.rig

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
BACK_S = 2.0
"""What is promised: from the network's return to the stream's."""
DARK_S = 2.0
"""What is promised: from kill -9 to the last lit frame."""
SECONDS = 3.0
ROUNDS = 4
SETTLE_S = 2.5
"""Between two rounds: the stream is back before the next."""
ADDRESSES = ("10.61.0.2", "10.61.0.3")

Fault = Callable[[NightRig], AbstractContextManager[None]]


@pytest.fixture(name="rig")
def _rig(cable: Cable) -> Iterator[NightRig]:
    with night_rig(cable) as rig:
        yield rig


needs_nft = pytest.mark.skipif(
    shutil.which("nft") is None and "CI" not in os.environ, reason="needs nft, to shut a firewall"
)


@pytest.mark.parametrize(
    ("fault", "kind", "subject"),
    [
        (faults.interface_down, EventKind.LINK_DOWN, "shed0"),
        (faults.cable_out, EventKind.LINK_DOWN, "shed0"),
        (faults.interface_made_again, EventKind.INTERFACE_GONE, "shed0"),
        (faults.address_changed, EventKind.ADDRESS_CHANGED, "shed0"),
        (faults.route_gone, EventKind.NO_ROUTE, "10.61.0.2 and 1 more"),
        (faults.queue_full, EventKind.SEND_ERROR, "ENOBUFS"),
        pytest.param(faults.firewall_shut, EventKind.SEND_ERROR, "EPERM", marks=needs_nft),
    ],
)
def test_a_fault_of_the_network_is_ridden_through_and_told_from_when_to_when(
    rig: NightRig, fault: Fault, kind: EventKind, subject: str
):
    """The stream is back within two seconds of the network, by itself; the event is as long as the fault."""
    rig.begin("--for", "15s", "--programme", "data")
    time.sleep(2)
    began_s, ended_s = have(rig, fault, SECONDS)
    rig.finish()
    told = [event for event in rig.events(kind) if event.subject == subject]
    assert told, rig.told()
    event = told[0]
    assert event.ended_at is not None
    assert event.began_at.unix_s == pytest.approx(began_s, abs=1.5)
    assert event.ended_at.unix_s == pytest.approx(ended_s, abs=1.5)
    back_s = max(rig.back_after_s(ended_s, each) for each in ADDRESSES)
    print(f"{fault.__name__}: of {ended_s - began_s:.2f} s, told {event.length_s} s, back {back_s:.3f} s")  # noqa: T201  the result
    assert back_s < BACK_S
    assert rig.longest_gap_s() < ended_s - began_s + BACK_S
    ended = rig.record().ended
    assert ended is not None
    assert ended.reason is EndReason.TIME_UP
    assert sum(each["terminated"] for each in rig.arrived()) == 3


@pytest.mark.parametrize(
    "fault",
    [
        faults.interface_down,
        faults.cable_out,
        faults.interface_made_again,
        faults.address_changed,
        faults.route_gone,
        faults.queue_full,
        pytest.param(faults.firewall_shut, marks=needs_nft),
        faults.controller_gone,
        faults.asleep,
        faults.clock_an_hour_on,
    ],
)
def test_round_after_round_the_stream_is_back_within_two_seconds(rig: NightRig, fault: Fault):
    """After faults of half a second to three, at both controllers; the longest is printed."""
    draw = Random(61)  # noqa: S311  not for secrets
    rig.begin("--for", "1h", "--programme", "data")
    ended_at_s = []
    for _ in range(ROUNDS):
        time.sleep(SETTLE_S)
        ended_at_s.append(have(rig, fault, draw.uniform(0.5, 3))[1])
    time.sleep(SETTLE_S)
    rig.run.send_signal(signal.SIGINT)
    rig.finish()
    back_s = [rig.back_after_s(ended_s, each) for ended_s in ended_at_s for each in ADDRESSES]
    print(f"{fault.__name__}: back after {', '.join(f'{each:.3f}' for each in back_s)} s")  # noqa: T201  the result
    assert max(back_s) < BACK_S


def test_an_address_that_changed_is_told_from_which_to_which(rig: NightRig):
    """And the stream goes on from the new one."""
    rig.begin("--for", "12s", "--programme", "data", "--interface", "shed0")
    have(rig, faults.address_changed, SECONDS)
    rig.finish()
    words = [event.words for event in rig.events(EventKind.ADDRESS_CHANGED)]
    assert words == ["it has lost its address 10.61.0.1", "10.61.0.1 is now 10.61.0.77"], rig.told()


def test_another_source_is_told_with_who_it_is_also_after_the_interface_was_made_anew(rig: NightRig):
    """Memberships of groups go with an interface, without a word: they are taken up again."""
    rig.begin("--for", "35s", "--programme", "data")
    rig.wait_until_it_listens()
    have(rig, faults.interface_made_again, SECONDS)
    time.sleep(SETTLE_S)
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    far = rig.cable.far
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", "1", "--interface", far.interface)
    far.run(*other, "--source-name", "Lake", "--seconds", "7")
    rig.finish()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert event.subject == "'Lake' at 10.61.0.2"
    assert "universe 1" in event.words
    assert 3 <= (event.length_s or 0) <= 11


PIER = e131_string("pier", "10.62.0.2", 2)


@pytest.mark.parametrize(("by", "universe"), [("lawn0", 1), ("lawn1", 2)])
def test_other_sources_are_heard_on_each_interface_that_leads_to_controllers(
    rig: NightRig, by: str, universe: int
):
    """Two networks and no default route: the system would know of no interface for groups."""
    near, far = rig.cable.near, rig.cable.far
    near.ip(*f"link add shed1 type veth peer name lawn1 netns {far.namespace}".split())
    for host, interface, address in ((near, "shed1", "10.62.0.1"), (far, "lawn1", "10.62.0.2")):
        host.ip("link", "set", interface, "up")
        host.ip("address", "add", f"{address}/24", "dev", interface)
    rig.file.write_text(DISPLAY + PIER)
    rig.begin("--for", "25s", "--programme", "data")
    rig.wait_until_it_listens()
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", str(universe), "--interface", by)
    far.run(*other, "--source-name", "Lake", "--seconds", "6")
    rig.finish()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert f"Another source sends universe {universe}" in event.words


def test_a_controller_that_is_switched_off_and_on_is_gone_and_then_restarted(rig: NightRig):
    """By poll and echo; its counter of replies begins anew."""
    rig.begin("--for", "28s", "--programme", "data")
    time.sleep(5)
    rig.lawns[1].send_signal(signal.SIGUSR1)
    _, ended_s = have(rig, faults.controller_gone, 11)
    rig.finish()
    assert rig.back_after_s(ended_s, "10.61.0.3") < BACK_S
    assert rig.longest_gap_s() < 1
    (gone,) = rig.events(EventKind.CONTROLLER_GONE)
    assert gone.subject == "roof"
    assert 8 <= (gone.length_s or 0) <= 16
    (again,) = rig.events(EventKind.CONTROLLER_REBOOTED)
    assert again.subject == "roof"


def test_a_clock_that_is_set_by_an_hour_moves_no_frame(rig: NightRig):
    """The event says so; the run is as long as asked."""
    rig.begin("--for", "10s", "--programme", "data")
    have(rig, faults.clock_an_hour_on, 2)
    rig.finish()
    words = [event.words for event in rig.events(EventKind.CLOCK_STEPPED)]
    assert [each.split(";")[0] for each in words] == [
        "it was set forwards by 1 h",
        "it was set backwards by 1 h",
    ]
    record = rig.record()
    assert record.ended is not None
    assert record.ended.at.run_s == pytest.approx(10, abs=0.5)
    assert rig.longest_gap_s() < 1


def test_a_terminal_that_closes_takes_nothing_with_it(rig: NightRig):
    """SIGHUP, and a terminal that takes no more words."""
    terminal, inside = os.openpty()
    rig.begin("--for", "10s", "--programme", "data", stdin=inside, stdout=inside, start_new_session=True)
    os.close(inside)
    assert select.select([terminal], [], [], LIMIT_S)[0]
    os.close(terminal)
    rig.run.send_signal(signal.SIGHUP)
    rig.run.wait(LIMIT_S)
    assert rig.events(EventKind.TERMINAL_CLOSED)
    assert rig.longest_gap_s() < 1
    ended = rig.record().ended
    assert ended is not None
    assert ended.reason is EndReason.TIME_UP


def test_a_terminal_that_takes_no_words_holds_nothing_up(rig: NightRig):
    """As after Ctrl-S: a write to it waits for ever, and the run does not wait for the write."""
    terminal, inside = os.openpty()
    termios.tcflow(inside, termios.TCOOFF)
    rig.begin("--for", "10s", "--programme", "data", stdin=inside, stdout=inside)
    assert rig.finish() == 0
    for descriptor in (terminal, inside):
        os.close(descriptor)
    record = rig.record()
    assert record.ended is not None
    assert record.ended.at.run_s == pytest.approx(10, abs=0.5)
    assert rig.longest_gap_s() < 1


def test_a_machine_that_slept_sends_no_burst_when_it_wakes(rig: NightRig):
    """Run and engine held for four seconds; in the second after, no more than a second's frames."""
    rig.begin("--for", "12s", "--programme", "data")
    time.sleep(2)
    have(rig, faults.asleep, 4)
    rig.finish()
    (event,) = rig.events(EventKind.ASLEEP)
    assert event.length_s == pytest.approx(4, abs=1)
    assert max(each["packets"] for each in rig.arrived()) <= 44 * LAWN_SECOND_S + 3


def test_a_full_disk_is_told_and_the_lights_go_on(rig: NightRig):
    """A volume of two megabytes, filled: what was written stays, and writing goes on when there is room."""
    subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "none", rig.file.parent], check=True, timeout=LIMIT_S
    )
    rig.begin("--for", "60s", "--programme", "data")
    time.sleep(11)
    filler = rig.file.with_name("filler")
    with pytest.raises(OSError, match="No space left"):
        fill(filler)
    limit_s = time.monotonic() + LIMIT_S
    while "the disk is full" not in rig.told():
        assert time.monotonic() < limit_s, rig.told()
        time.sleep(0.2)
    with reading(journal_path(rig.file)) as reader:
        kept = list(reader.samples(1))
    assert len(kept) >= 2
    time.sleep(6)
    filler.unlink()
    rig.finish()
    (event,) = rig.events(EventKind.DISK_FULL)
    assert 4 <= (event.length_s or 0) <= 20
    with reading(journal_path(rig.file)) as reader:
        assert list(reader.samples(1))[: len(kept)] == kept
    assert rig.longest_gap_s() < 1


def fill(path: Path) -> None:
    """Write until nothing more can be written."""
    with path.open("wb", buffering=0) as file:
        for _ in range(8_000):
            file.write(bytes(512))


def test_an_engine_that_is_killed_is_started_anew(rig: NightRig):
    """The stream is back within two seconds and what it takes to start a process; the gap is told."""
    rig.begin("--for", "12s", "--programme", "data")
    os.kill(rig.engine(), signal.SIGKILL)
    rig.finish()
    (event,) = rig.events(EventKind.STREAM_STOPPED)
    assert event.length_s is not None
    assert event.length_s < 4
    assert rig.longest_gap_s() < 4


def test_after_kill_9_the_lights_go_dark_and_the_run_is_taken_up_with_its_gap(rig: NightRig):
    """Dark within two seconds; then the same run goes on."""
    rig.begin("--for", "45s", "--programme", "data")
    time.sleep(4)
    rig.run.kill()
    killed_s = time.time()
    rig.run.wait(LIMIT_S)
    time.sleep(4)
    lit_s = rig.arrived()[-1]["lit_unix_s"] - killed_s
    print(f"lit for {lit_s:.3f} s after kill -9")  # noqa: T201  the result
    assert 0 < lit_s < DARK_S
    assert sum(each["terminated"] for each in rig.arrived()) == 3
    before = rig.record()
    assert before.ended is None
    rig.begin("--resume")
    rig.finish()
    record = rig.record()
    assert record.number == before.number
    assert record.ended is not None
    assert record.ended.at.run_s == pytest.approx(45, abs=1.5)
    (gap,) = rig.events(EventKind.JOURNAL_GAP)
    assert 3 <= (gap.length_s or 0) <= 30


def test_what_a_person_made_dark_stays_dark_when_the_run_is_killed_and_taken_up(
    rig: NightRig, monkeypatch: pytest.MonkeyPatch
):
    """No controller gets one lit frame until a person lights it; then the programme goes on."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{rig.folder}/r")
    rig.begin("--for", "1h", "--programme", "full")
    by_hand(rig, Dark(on=True))
    wait_until(lambda: bool(rig.events(EventKind.DARKENED)), rig)
    time.sleep(1)
    rig.run.kill()
    rig.run.wait(LIMIT_S)
    time.sleep(4)
    taken_up_s = time.time()
    rig.begin("--resume")
    time.sleep(4)
    assert not any(each["lit"] for each in lines_since(rig, taken_up_s))
    (before, after) = rig.events(EventKind.DARKENED)
    assert (before.subject, after.ended_at) == (after.subject, None)
    assert "stay dark until a person lights them" in rig.told()
    by_hand(rig, Dark(on=False))
    wait_until(lambda: any(each["lit"] for each in lines_since(rig, taken_up_s)), rig)
    rig.run.send_signal(signal.SIGINT)
    rig.finish()
    assert all(each.ended_at for each in rig.events(EventKind.DARKENED))


def by_hand(rig: NightRig, dark: Dark) -> None:
    """Take control of the run, as a screen does, make it dark or light it, and leave."""
    with closing(attach(run_name(rig.file), client_name("screen"), control=True)) as link:
        link.send(TakeControl())
        link.send(dark)
        wanted = State.DARK if dark.on else State.RUNNING
        while wait_for(link, Status).state is not wanted:
            pass


def wait_until(is_so: Callable[[], bool], rig: NightRig) -> None:
    """Wait until it is so."""
    limit_s = time.monotonic() + LIMIT_S
    while not is_so():
        assert time.monotonic() < limit_s, rig.told()
        time.sleep(0.1)


def lines_since(rig: NightRig, unix_s: float) -> list[dict[str, Any]]:
    """Return what the controllers took in since then, second by second."""
    return [each for address in ADDRESSES for each in rig.arrived(address) if each["unix_s"] > unix_s]


def test_a_rehearsal_that_is_taken_up_stays_one(rig: NightRig):
    """Nothing is sent to the controllers, though nobody said again where to send."""
    rig.file.write_text(DISPLAY)
    for options in (("--for", "1h", "--to", "127.0.0.1", "--flashes", "1"), ("--resume",)):
        with (rig.folder / "told").open("wb") as told:
            words = (ROPEWALK, "soak", rig.file, *options)
            run = rig.start(rig.cable.near.namespace, *words, stdout=told, stderr=subprocess.STDOUT)
        limit_s = time.monotonic() + LIMIT_S
        while "leaves by lo" not in rig.told():
            assert time.monotonic() < limit_s, rig.told()
            time.sleep(0.1)
        run.kill()
        run.wait(LIMIT_S)
    time.sleep(LAWN_SECOND_S)
    assert not any(each["packets"] for address in ("10.61.0.2", "10.61.0.3") for each in rig.arrived(address))
    assert rig.record().facts.flashes_per_s == 1


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_can_be_ended_early_and_ends_well(rig: NightRig, number: signal.Signals):
    """Dark, terminated, and the journal says that it was stopped."""
    rig.begin("--for", "1h", "--programme", "data")
    time.sleep(1)
    rig.run.send_signal(number)
    rig.finish()
    time.sleep(1.5)
    ended = rig.record().ended
    assert ended is not None
    assert (ended.reason, ended.words) == (EndReason.STOPPED, f"by {number.name}")
    arrived = rig.arrived()
    assert sum(each["terminated"] for each in arrived) == 3
    assert not any(after["lit"] for before, after in pairwise(arrived) if before["terminated"])
