"""A night run over a cable between two hosts, with faults: what the journal says, and what really arrived."""

import json
import os
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import termios
import time
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from streamer.soak.journal import journal_path, reading
from streamer.soak.records import EndReason, Event, EventKind, RunRecord
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig

HERE = Path(__file__).parent
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 60
BACK_S = 2.0
"""What is promised: from the network's return to the stream's."""
DARK_S = 2.0
"""What is promised: from kill -9 to the last lit frame."""
LAWN_SECOND_S = 1.1
"""What the lawn writes is of one second, and a little more on a busy machine."""
DISPLAY = """
name = "Jetty and roof"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "10.61.0.2"
[[controllers.ports]]
number = 1
universe = 1
segments = [{ nodes = 100 }]
[[controllers]]
name = "roof"
protocol = "artnet"
address = "10.61.0.3"
[[controllers.ports]]
number = 1
port_address = 19
segments = [{ nodes = 100 }]
"""


class NightRig:
    """A run on the near host, two controllers on the far one."""

    def __init__(self, cable: Cable, folder: Path) -> None:
        self.cable, self.folder = cable, folder
        self.file = folder / "volume" / "display.toml"
        self.file.parent.mkdir()
        self.clock = folder / "clock"
        self.clock.write_text("0")
        self._processes: list[subprocess.Popen[bytes]] = []
        cable.far.ip("address", "add", "10.61.0.3/24", "dev", cable.far.interface)
        cable.near.run("sysctl", "-qw", "net.ipv4.ping_group_range=0 2147483647")
        self.lawns = [self._lawn(address) for address in ("10.61.0.2", "10.61.0.3")]
        self.run: subprocess.Popen[bytes] = self.lawns[0]

    def _start(self, namespace: str, *words: str | Path, **more: Any) -> "subprocess.Popen[bytes]":
        settings = (f"ROPEWALK_RUNTIME_DIR={self.folder}/r", f"ROPEWALK_CONFIG_DIR={self.folder}/c")
        command = ["ip", "netns", "exec", namespace, "env", *settings, *map(str, words)]
        process: subprocess.Popen[bytes] = subprocess.Popen(command, **more)
        self._processes.append(process)
        return process

    def _lawn(self, address: str) -> "subprocess.Popen[bytes]":
        log = self.folder / f"{address}.log"
        return self._start(self.cable.far.namespace, sys.executable, HERE / "lawn.py", address, log)

    def begin(self, *options: str, **more: Any) -> None:
        """Start the run, and wait until it plays."""
        if not self.file.exists():
            self.file.write_text(DISPLAY)
        words: tuple[str | Path, ...] = (HERE / "with_clock.py", self.clock, "soak", self.file, *options)
        with (self.folder / "told").open("ab") as told:
            more = {"stdin": subprocess.DEVNULL, "stdout": told, "stderr": subprocess.STDOUT, **more}
            self.run = self._start(self.cable.near.namespace, sys.executable, *words, **more)
        limit_s = time.monotonic() + LIMIT_S
        while not any(each["packets"] for each in self.arrived()[-1:]):
            assert time.monotonic() < limit_s, self.told()
            time.sleep(0.1)

    def told(self) -> str:
        """Return what was said."""
        return (self.folder / "told").read_text()

    def finish(self) -> int:
        """Wait for its end, and return its exit code."""
        code = self.run.wait(LIMIT_S)
        # What came last is a line of the lawn only a second later.
        time.sleep(LAWN_SECOND_S + 0.3)
        assert "Traceback" not in self.told()
        return code

    def arrived(self, address: str = "10.61.0.2") -> list[dict[str, float]]:
        """Return what a controller took in, second by second."""
        log = self.folder / f"{address}.log"
        return [json.loads(line) for line in log.read_text().splitlines()] if log.exists() else []

    def events(self, kind: EventKind) -> list[Event]:
        """Return what the journal holds of a kind."""
        with reading(journal_path(self.file)) as reader:
            run = reader.runs()[-1]
            return [event for event in reader.events(run.number) if event.kind is kind]

    def record(self) -> RunRecord:
        """Return the run."""
        with reading(journal_path(self.file)) as reader:
            return reader.runs()[-1]

    def longest_gap_s(self) -> float:
        """Return the longest time without a packet at the first controller, while it was sent to."""
        return self._longest_gap()["gap_s"]

    def back_unix_s(self) -> float:
        """Return when the first packet came after the longest time without one."""
        return self._longest_gap()["back_unix_s"]

    def _longest_gap(self) -> dict[str, float]:
        sent = [each for each in self.arrived() if each["packets"]]
        return max(sent[1:], key=lambda each: each["gap_s"])

    def engine(self) -> int:
        """Return the process of the run's engine."""
        words = Path(f"/proc/{self.run.pid}/task/{self.run.pid}/children").read_text().split()
        return int(words[0])

    def end(self) -> None:
        """End what is left."""
        for process in self._processes:
            process.kill()
            process.wait(LIMIT_S)


@pytest.fixture(name="rig")
def _rig(cable: Cable) -> Iterator[NightRig]:
    folder = Path(tempfile.mkdtemp(prefix="rw"))
    rig = NightRig(cable, folder)
    try:
        yield rig
    finally:
        rig.end()
        subprocess.run(["umount", rig.file.parent], capture_output=True, check=False, timeout=LIMIT_S)
        shutil.rmtree(folder, ignore_errors=True)


Fault = Callable[[NightRig], None]
SECONDS = 3.0


def _interface_down(rig: NightRig) -> None:
    near = rig.cable.near
    near.ip("link", "set", near.interface, "down")
    time.sleep(SECONDS)
    near.ip("link", "set", near.interface, "up")


def _cable_out(rig: NightRig) -> None:
    far = rig.cable.far
    far.ip("link", "set", far.interface, "down")
    time.sleep(SECONDS)
    far.ip("link", "set", far.interface, "up")


def _interface_made_again(rig: NightRig) -> None:
    rig.cable.unplug()
    time.sleep(SECONDS)
    rig.cable.plug()
    rig.cable.far.ip("address", "add", "10.61.0.3/24", "dev", rig.cable.far.interface)


def _address_changed(rig: NightRig) -> None:
    near = rig.cable.near
    near.ip("address", "del", f"{near.address}/24", "dev", near.interface)
    time.sleep(SECONDS)
    near.ip("address", "add", "10.61.0.77/24", "dev", near.interface)


def _route_gone(rig: NightRig) -> None:
    near = rig.cable.near
    near.ip("route", "del", "10.61.0.0/24", "dev", near.interface)
    time.sleep(SECONDS)
    near.ip("route", "add", "10.61.0.0/24", "dev", near.interface)


def _queue_full(rig: NightRig) -> None:
    near = rig.cable.near
    near.run(*f"tc qdisc add dev {near.interface} root tbf rate 8kbit burst 1600 limit 1600".split())
    time.sleep(SECONDS)
    near.run(*f"tc qdisc del dev {near.interface} root".split())


def _firewall_shut(rig: NightRig) -> None:
    near = rig.cable.near
    near.run("nft", "add table inet shut; add chain inet shut out { type filter hook output priority 0; }")
    near.run("nft", "add rule inet shut out udp dport { 5568, 6454 } drop")
    time.sleep(SECONDS)
    near.run("nft", "delete table inet shut")


needs_nft = pytest.mark.skipif(
    shutil.which("nft") is None and "CI" not in os.environ, reason="needs nft, to shut a firewall"
)


@pytest.mark.parametrize(
    ("fault", "kind", "subject"),
    [
        (_interface_down, EventKind.LINK_DOWN, "shed0"),
        (_cable_out, EventKind.LINK_DOWN, "shed0"),
        (_interface_made_again, EventKind.INTERFACE_GONE, "shed0"),
        (_address_changed, EventKind.ADDRESS_CHANGED, "shed0"),
        (_route_gone, EventKind.NO_ROUTE, "10.61.0.2 and 1 more"),
        (_queue_full, EventKind.SEND_ERROR, "ENOBUFS"),
        pytest.param(_firewall_shut, EventKind.SEND_ERROR, "EPERM", marks=needs_nft),
    ],
)
def test_a_fault_of_the_network_is_ridden_through_and_told_from_when_to_when(
    rig: NightRig, fault: Fault, kind: EventKind, subject: str
):
    """The stream is back within two seconds of the network, by itself; the event is as long as the fault."""
    rig.begin("--for", "15s", "--programme", "data")
    time.sleep(2)
    began_s = time.time()
    fault(rig)
    ended_s = time.time()
    rig.finish()
    told = [event for event in rig.events(kind) if event.subject == subject]
    assert told, rig.told()
    event = told[0]
    assert event.ended_at is not None
    assert event.began_at.unix_s == pytest.approx(began_s, abs=1.5)
    assert event.ended_at.unix_s == pytest.approx(ended_s, abs=1.5)
    back_s = rig.back_unix_s() - ended_s
    print(f"{fault.__name__}: of {ended_s - began_s:.2f} s, told {event.length_s} s, back {back_s:.3f} s")  # noqa: T201  the result
    assert back_s < BACK_S
    assert rig.longest_gap_s() < ended_s - began_s + BACK_S
    ended = rig.record().ended
    assert ended is not None
    assert ended.reason is EndReason.TIME_UP
    assert sum(each["terminated"] for each in rig.arrived()) == 3


def test_an_address_that_changed_is_told_from_which_to_which(rig: NightRig):
    """And the stream goes on from the new one."""
    rig.begin("--for", "12s", "--programme", "data", "--interface", "shed0")
    _address_changed(rig)
    rig.finish()
    words = [event.words for event in rig.events(EventKind.ADDRESS_CHANGED)]
    assert words == ["it has lost its address 10.61.0.1", "10.61.0.1 is now 10.61.0.77"]


def test_another_source_is_told_with_who_it_is_also_after_the_interface_was_made_anew(rig: NightRig):
    """Memberships of groups go with an interface, without a word: they are taken up again."""
    rig.begin("--for", "25s", "--programme", "data")
    _interface_made_again(rig)
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    far = rig.cable.far
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", "1", "--interface", far.interface)
    far.run(*other, "--source-name", "Lake", "--seconds", "5")
    rig.finish()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert event.subject == "'Lake' at 10.61.0.2"
    assert "universe 1" in event.words
    assert 3 <= (event.length_s or 0) <= 9


PIER = """
[[controllers]]
name = "pier"
protocol = "e131"
address = "10.62.0.2"
[[controllers.ports]]
number = 1
universe = 2
segments = [{ nodes = 100 }]
"""


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
    rig.begin("--for", "20s", "--programme", "data")
    time.sleep(4)
    settings = (f"ROPEWALK_RUNTIME_DIR={rig.folder}/r2", f"ROPEWALK_CONFIG_DIR={rig.folder}/c2")
    other = ("env", *settings, ROPEWALK, "send", "level", "-u", str(universe), "--interface", by)
    far.run(*other, "--source-name", "Lake", "--seconds", "4")
    rig.finish()
    (event,) = rig.events(EventKind.OTHER_SOURCE)
    assert f"Another source sends universe {universe}" in event.words


def test_a_controller_that_is_switched_off_and_on_is_gone_and_then_restarted(rig: NightRig):
    """By poll and echo; its counter of replies begins anew."""
    far = rig.cable.far
    rig.begin("--for", "28s", "--programme", "data")
    time.sleep(5)
    rig.lawns[1].send_signal(signal.SIGUSR1)
    far.ip("address", "del", "10.61.0.3/24", "dev", far.interface)
    time.sleep(11)
    far.ip("address", "add", "10.61.0.3/24", "dev", far.interface)
    rig.finish()
    (gone,) = rig.events(EventKind.CONTROLLER_GONE)
    assert gone.subject == "roof"
    assert 8 <= (gone.length_s or 0) <= 16
    (again,) = rig.events(EventKind.CONTROLLER_REBOOTED)
    assert again.subject == "roof"


def test_a_clock_that_is_set_by_an_hour_moves_no_frame(rig: NightRig):
    """The event says so; the run is as long as asked."""
    rig.begin("--for", "10s", "--programme", "data")
    rig.clock.write_text("3600")
    time.sleep(2)
    rig.clock.write_text("0")
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
    both = (rig.run.pid, rig.engine())
    for process in both:
        os.kill(process, signal.SIGSTOP)
    time.sleep(4)
    for process in reversed(both):
        os.kill(process, signal.SIGCONT)
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


def test_a_rehearsal_that_is_taken_up_stays_one(rig: NightRig):
    """Nothing is sent to the controllers, though nobody said again where to send."""
    rig.file.write_text(DISPLAY)
    for options in (("--for", "1h", "--to", "127.0.0.1", "--flashes", "1"), ("--resume",)):
        with (rig.folder / "told").open("wb") as told:
            words = (ROPEWALK, "soak", rig.file, *options)
            run = rig._start(rig.cable.near.namespace, *words, stdout=told, stderr=subprocess.STDOUT)
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
