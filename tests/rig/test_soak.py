"""A night run over a cable between two hosts, with faults: what the journal says, and what really arrived."""

import os
import select
import shutil
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import closing
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest

from streamer.cli.soaking import run_name
from streamer.engine.client import attach, client_name
from streamer.engine.messages import Dark, State, Status, TakeControl
from streamer.engine.waiting import wait_for
from streamer.soak.records import EndReason, Event, EventKind
from tests.rig import faults
from tests.rig.cable import Cable
from tests.rig.faults import Fault, have, is_at
from tests.rig.files import e131_string
from tests.rig.night_rig import ADDRESSES, DISPLAY, LAWN_SECOND_S, LIMIT_S, NightRig, night_rig

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
TOLD_S = 1.5
"""As near is told when a fault began and ended: watches look once a second."""


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

    def told() -> list[Event]:
        return [event for event in rig.events(kind) if event.subject == subject]

    rig.begin("--for", "1h", "--programme", "data")
    time.sleep(2)
    had = have(rig, fault, SECONDS, until=lambda: bool(told()))
    rig.wait_until(lambda: told()[0].ended_at is not None and is_back(rig, had.back_s))
    rig.stop()
    event = told()[0]
    assert event.ended_at is not None
    assert is_at(event.began_at.unix_s, had.began_s, TOLD_S), (event, had)
    assert is_at(event.ended_at.unix_s, had.ended_s, TOLD_S), (event, had)
    back_s = max(rig.back_after_s(had.back_s, each) for each in ADDRESSES)
    print(f"{fault.__name__}: of {had.longest_s:.2f} s, told {event.length_s} s, back {back_s:.3f} s")  # noqa: T201  the result
    assert back_s < BACK_S
    assert rig.longest_gap_s() < had.longest_s + BACK_S, (rig.gaps(), rig.told())
    assert sum(each["terminated"] for each in rig.arrived()) == 3


def is_back(rig: NightRig, since_s: float) -> bool:
    """Whether both controllers have had a second with packets since then."""
    return all(any(each["packets"] for each in rig.arrived(address, since_s)) for address in ADDRESSES)


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
        ended_at_s.append(have(rig, fault, draw.uniform(0.5, 3)).back_s)
        rig.wait_until(lambda: is_back(rig, ended_at_s[-1]))
    rig.stop()
    back_s = [rig.back_after_s(ended_s, each) for ended_s in ended_at_s for each in ADDRESSES]
    print(f"{fault.__name__}: back after {', '.join(f'{each:.3f}' for each in back_s)} s")  # noqa: T201  the result
    assert max(back_s) < BACK_S


def test_an_address_that_changed_is_told_from_which_to_which(rig: NightRig):
    """And the stream goes on from the new one."""

    def words() -> list[str]:
        return [event.words for event in rig.events(EventKind.ADDRESS_CHANGED)]

    rig.begin("--for", "15s", "--programme", "data", "--interface", "shed0")
    have(rig, faults.address_changed, SECONDS, until=lambda: bool(words()))
    rig.finish()
    assert words() == ["it has lost its address 10.61.0.1", "10.61.0.1 is now 10.61.0.77"], rig.told()
    ended = rig.record().ended
    assert ended is not None
    assert ended.reason is EndReason.TIME_UP


def test_another_source_is_told_with_who_it_is_also_after_the_interface_was_made_anew(rig: NightRig):
    """Memberships of groups go with an interface, without a word: they are taken up again."""
    rig.begin("--for", "1h", "--programme", "data")
    rig.wait_until_it_listens()
    have(rig, faults.interface_made_again, SECONDS)
    time.sleep(SETTLE_S)
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    far = rig.cable.far
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", "1", "--interface", far.interface)
    far.run(*other, "--source-name", "Lake", "--seconds", "7")
    wait_until_over(rig, EventKind.OTHER_SOURCE)
    rig.stop()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert event.subject == "'Lake' at 10.61.0.2"
    assert "universe 1" in event.words
    assert 3 <= (event.length_s or 0) <= 11


def wait_until_over(rig: NightRig, kind: EventKind) -> None:
    """Wait until the journal has an event of a kind with its end."""
    rig.wait_until(lambda: any(each.ended_at for each in rig.events(kind)))


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
    rig.begin("--for", "1h", "--programme", "data")
    rig.wait_until_it_listens()
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", str(universe), "--interface", by)
    far.run(*other, "--source-name", "Lake", "--seconds", "6")
    wait_until_over(rig, EventKind.OTHER_SOURCE)
    rig.stop()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert f"Another source sends universe {universe}" in event.words


def test_a_controller_that_is_switched_off_and_on_is_gone_and_then_restarted(rig: NightRig):
    """By poll and echo; its counter of replies begins anew."""
    rig.begin("--for", "1h", "--programme", "data")
    rig.wait_until(lambda: has_answered(rig, "roof"))
    rig.lawns[1].send_signal(signal.SIGUSR1)
    had = have(rig, faults.controller_gone, 11, until=lambda: bool(rig.events(EventKind.CONTROLLER_GONE)))
    wait_until_over(rig, EventKind.CONTROLLER_GONE)
    rig.wait_until(lambda: bool(rig.events(EventKind.CONTROLLER_REBOOTED)))
    rig.wait_until(lambda: is_back(rig, had.back_s))
    rig.stop()
    assert rig.back_after_s(had.back_s, "10.61.0.3") < BACK_S
    assert rig.longest_gap_s() < 1, (rig.gaps(), rig.told())
    (gone,) = rig.events(EventKind.CONTROLLER_GONE)
    assert gone.subject == "roof"
    assert -3 <= (gone.length_s or 0) - had.longest_s <= 5
    (again,) = rig.events(EventKind.CONTROLLER_REBOOTED)
    assert again.subject == "roof"


def has_answered(rig: NightRig, name: str) -> bool:
    """Whether a controller has answered a poll and an echo."""
    told = [each for sample in rig.samples() for each in sample.controllers if each.name == name]
    return any(each.polls_answered for each in told) and any(each.echoes_answered for each in told)


def test_a_clock_that_is_set_by_an_hour_moves_no_frame(rig: NightRig):
    """The event says so; the run is as long as asked."""
    rig.begin("--for", "10s", "--programme", "data")
    have(rig, faults.clock_an_hour_on, 2, until=lambda: bool(rig.events(EventKind.CLOCK_STEPPED)))
    rig.finish()
    words = [event.words for event in rig.events(EventKind.CLOCK_STEPPED)]
    assert [each.split(";")[0] for each in words] == [
        "it was set forwards by 1 h",
        "it was set backwards by 1 h",
    ]
    record = rig.record()
    assert record.ended is not None
    assert record.ended.at.run_s == pytest.approx(10, abs=0.5)
    assert rig.longest_gap_s() < 1, (rig.gaps(), rig.told())


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
    assert rig.longest_gap_s() < 1, (rig.gaps(), rig.told())
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
    assert rig.longest_gap_s() < 1, (rig.gaps(), rig.told())


def test_a_machine_that_slept_sends_no_burst_when_it_wakes(rig: NightRig):
    """Run and engine held for four seconds; in the second after, no more than a second's frames."""
    rig.begin("--for", "1h", "--programme", "data")
    time.sleep(2)
    had = have(rig, faults.asleep, 4)
    rig.wait_until(lambda: bool(rig.events(EventKind.ASLEEP)) and is_back(rig, had.back_s))
    rig.stop()
    (event,) = rig.events(EventKind.ASLEEP)
    assert event.length_s == pytest.approx(had.longest_s, abs=1)
    assert max(each["packets"] for each in rig.arrived()) <= 44 * LAWN_SECOND_S + 3


def test_a_full_disk_is_told_and_the_lights_go_on(rig: NightRig):
    """A volume of two megabytes, filled: what was written stays, and writing goes on when there is room."""
    subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "none", rig.file.parent], check=True, timeout=LIMIT_S
    )
    rig.begin("--for", "1h", "--programme", "data")
    rig.wait_until(lambda: len(rig.samples()) >= 2)
    filler = rig.file.with_name("filler")
    with pytest.raises(OSError, match="No space left"):
        fill(filler)
    rig.wait_until(lambda: "the disk is full" in rig.told())
    kept = rig.samples()
    assert len(kept) >= 2
    time.sleep(6)
    filler.unlink()
    wait_until_over(rig, EventKind.DISK_FULL)
    rig.stop()
    (event,) = rig.events(EventKind.DISK_FULL)
    assert 4 <= (event.length_s or 0) <= 20
    assert rig.samples()[: len(kept)] == kept
    assert rig.longest_gap_s() < 1, (rig.gaps(), rig.told())


def fill(path: Path) -> None:
    """Write until nothing more can be written."""
    with path.open("wb", buffering=0) as file:
        for _ in range(8_000):
            file.write(bytes(512))


def test_an_engine_that_is_killed_is_started_anew(rig: NightRig):
    """The stream is back within two seconds and what it takes to start a process; the gap is told."""
    rig.begin("--for", "1h", "--programme", "data")
    os.kill(rig.engine(), signal.SIGKILL)
    killed_s = time.time()
    wait_until_over(rig, EventKind.STREAM_STOPPED)
    rig.wait_until(lambda: is_back(rig, killed_s))
    rig.stop()
    (event,) = rig.events(EventKind.STREAM_STOPPED)
    assert event.length_s is not None
    assert event.length_s < 4
    assert rig.longest_gap_s() < 4


def test_after_kill_9_the_lights_go_dark_and_the_run_is_taken_up_with_its_gap(rig: NightRig):
    """Dark within two seconds; then the same run goes on."""
    rig.begin("--for", "45s", "--programme", "data")
    time.sleep(4)
    before_s = time.time()
    rig.run.kill()
    killed_s = time.time()
    rig.run.wait(LIMIT_S)
    rig.wait_until(lambda: sum(each["terminated"] for each in rig.arrived()) == 3)
    time.sleep(2)
    rig.wait_for_the_lawns()
    lit_s = rig.arrived()[-1]["lit_unix_s"]
    print(f"lit for {lit_s - killed_s:.3f} s after kill -9")  # noqa: T201  the result
    assert before_s < lit_s < killed_s + DARK_S
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
    rig.wait_until(lambda: bool(rig.events(EventKind.DARKENED)))
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
    rig.wait_until(lambda: any(each["lit"] for each in lines_since(rig, taken_up_s)))
    rig.stop()
    assert all(each.ended_at for each in rig.events(EventKind.DARKENED))


def by_hand(rig: NightRig, dark: Dark) -> None:
    """Take control of the run, as a screen does, make it dark or light it, and leave."""
    with closing(attach(run_name(rig.file), client_name("screen"), control=True)) as link:
        link.send(TakeControl())
        link.send(dark)
        wanted = State.DARK if dark.on else State.RUNNING
        while wait_for(link, Status).state is not wanted:
            pass


def lines_since(rig: NightRig, unix_s: float) -> list[dict[str, Any]]:
    """Return what the controllers took in since then, second by second."""
    return [each for address in ADDRESSES for each in rig.arrived(address, unix_s)]


def test_a_rehearsal_that_is_taken_up_stays_one(rig: NightRig):
    """Nothing is sent to the controllers, though nobody said again where to send."""
    rig.file.write_text(DISPLAY)
    for options in (("--for", "1h", "--to", "127.0.0.1", "--flashes", "1"), ("--resume",)):
        with (rig.folder / "told").open("wb") as told:
            words = (ROPEWALK, "soak", rig.file, *options)
            run = rig.start(rig.cable.near.namespace, *words, stdout=told, stderr=subprocess.STDOUT)
        rig.wait_until(lambda: "leaves by lo" in rig.told())
        run.kill()
        run.wait(LIMIT_S)
    rig.wait_for_the_lawns()
    assert not any(each["packets"] for address in ADDRESSES for each in rig.arrived(address))
    assert rig.record().facts.flashes_per_s == 1


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_can_be_ended_early_and_ends_well(rig: NightRig, number: signal.Signals):
    """Dark, terminated, and the journal says that it was stopped."""
    rig.begin("--for", "1h", "--programme", "data")
    time.sleep(1)
    rig.run.send_signal(number)
    rig.finish()
    ended = rig.record().ended
    assert ended is not None
    assert (ended.reason, ended.words) == (EndReason.STOPPED, f"by {number.name}")
    arrived = rig.arrived()
    assert sum(each["terminated"] for each in arrived) == 3
    assert not any(after["lit"] for before, after in pairwise(arrived) if before["terminated"])
