"""The engine as a process of its own, with real packets to receivers on this machine's loopback.

However it ends, the lights go dark and each E1.31 universe gets three packets with Stream_Terminated
(ANSI E1.31-2018 clauses 6.2.6 and 6.7.1).
"""

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from streamer.engine.attendance import GRACE_S
from streamer.engine.client import attach, client_name, running_engines, start
from streamer.engine.messages import (
    Dark,
    Ended,
    Hello,
    Leash,
    Loosen,
    Plan,
    Play,
    Report,
    Status,
    Stop,
    TakeControl,
)
from streamer.engine.waiting import settled_status, wait_for
from streamer.errors import LinkError
from streamer.link.addresses import log_path
from streamer.link.channel import Link
from streamer.link.processes import _children
from tests.engine.bench import play
from tests.engine.hearing import Hearing, assert_ended_well
from tests.pipes import piped

LIMIT_S = 20
AT_ONCE_S = 5
"""Half of the longest wait of an engine."""


Begun = tuple[Link[Report], "subprocess.Popen[bytes]"]
Begin = Callable[..., Begun]


@pytest.fixture(name="hearing")
def _hearing() -> Iterator[Hearing]:
    hearing = Hearing()
    yield hearing
    for sock in hearing.sockets:
        sock.close()


@pytest.fixture(name="engine")
def _engine(own_folders: Path) -> Iterator[Begin]:  # noqa: ARG001  it sets where they run
    """Start engines, which are gone when the test ends."""
    links, known = [], len(_children)

    def begin(name: str = "boat") -> Begun:
        links.append(start(name, client_name("a test")))
        return links[-1], _children[-1]

    yield begin
    for link in links:
        link.close()
    for process in _children[known:]:
        if process.poll() is None:
            process.kill()
        process.wait(LIMIT_S)


def left_behind(folder: Path) -> set[str]:
    """Return the files in the runtime folder, the lock apart."""
    return {path.name for path in (folder / "run").iterdir()} - {".lock"}


def test_stopped_by_its_client_it_ends_well_and_waits_for_more(hearing: Hearing, engine: Begin):
    """Play, listen, stop; the counts are those of what arrived; then the next run on the same engine."""
    link, _ = engine()
    link.send(play("level", hearing.display()))
    hearing.listen_until_lit()
    link.send(Stop())
    ended = wait_for(link, Ended)
    hearing.listen(0.1)
    assert_ended_well(hearing.packets())
    assert ended.counts.packets == len(hearing.octets)
    assert ended.counts.errors == {}
    link.send(play("walk", hearing.display()))
    assert [wait_for(link, Plan).number for _ in range(2)] == [1, 2]


@pytest.mark.parametrize(
    "name", ["SIGTERM", *(pytest.param(each, marks=pytest.mark.slow) for each in ("SIGHUP", "SIGINT"))]
)
def test_a_signal_ends_it_well_and_nothing_is_left(
    hearing: Hearing, engine: Begin, own_folders: Path, name: str
):
    """While it plays; exit status 0."""
    link, process = engine()
    link.send(play("level", hearing.display()))
    hearing.listen_until_lit()
    process.send_signal(getattr(signal, name))
    assert wait_for(link, Ended).reason == f"ended by {name}"
    assert process.wait(LIMIT_S) == 0
    hearing.listen(0.05)
    assert_ended_well(hearing.packets())
    assert left_behind(own_folders) == set()


def test_a_signal_ends_the_longest_wait_at_once(own_folders: Path):
    """An engine to which nobody has come yet waits for ten seconds; it does not wait that long to obey."""
    process = subprocess.Popen([sys.executable, "-m", "streamer.engine.process", "boat"])
    until(lambda: bool(running_engines()))
    time.sleep(0.2)
    process.send_signal(signal.SIGTERM)
    assert process.wait(AT_ONCE_S) == 0
    assert left_behind(own_folders) == set()


CLIENT = """
import sys, time
from streamer.engine.client import start
from streamer.engine.messages import Play
link = start("boat", "one that dies")
link.send(Play.model_validate_json(sys.stdin.read()))
print("playing", flush=True)
time.sleep(60)
"""


def start_client(request: Play) -> "subprocess.Popen[bytes]":
    """Start a client in a process of its own that starts an engine and plays."""
    client = subprocess.Popen([sys.executable, "-c", CLIENT], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    piped(client.stdin).write(request.model_dump_json().encode())
    piped(client.stdin).close()
    assert piped(client.stdout).readline() == b"playing\n"
    piped(client.stdout).close()
    return client


def kill(client: "subprocess.Popen[bytes]") -> tuple[float, float]:
    """Kill a client, and return two moments between which that was."""
    before_s = time.monotonic()
    client.kill()
    client.wait()
    return before_s, time.monotonic()


def until(is_so: Callable[[], bool]) -> None:
    """Wait until it is so."""
    limit_s = time.monotonic() + LIMIT_S
    while not is_so():
        assert time.monotonic() < limit_s
        time.sleep(0.02)


@pytest.mark.rig
def test_kill_9_of_the_client_ends_a_leashed_run_after_the_grace(hearing: Hearing, own_folders: Path):
    """Dark within two seconds, as is promised, and terminated; the engine has gone without a trace."""
    client = start_client(play("level", hearing.display()))
    hearing.listen_until_lit()
    before_s, killed_s = kill(client)
    packets = hearing.listen_until_silent()
    assert_ended_well(packets)
    assert before_s + GRACE_S - 0.1 <= packets[-7].at_s < killed_s + 2.0
    assert running_engines() == ()
    assert left_behind(own_folders) == set()


@pytest.mark.rig
def test_looking_on_keeps_no_lights_lit_after_kill_9_of_the_client(hearing: Hearing, own_folders: Path):
    """Another process asks again and again what plays, as `ropewalk runs` does: dark within the grace."""
    client = start_client(play("level", hearing.display()))
    hearing.listen_until_lit()
    before_s, killed_s = kill(client)
    looks = 0
    while running_engines() and time.monotonic() < killed_s + 8:
        with contextlib.suppress(LinkError):  # it ends between the two calls
            looks += settled_status("boat").leash is Leash.LEASHED
        hearing.listen(0.2)
    assert looks >= 2
    packets = hearing.listen_until_silent()
    assert_ended_well(packets)
    assert before_s + GRACE_S - 0.1 <= packets[-7].at_s < killed_s + 2.0
    assert left_behind(own_folders) == set()


@pytest.mark.rig
def test_a_free_run_outlives_its_client_and_can_be_attached_to_and_stopped(
    hearing: Hearing, own_folders: Path
):
    """A night run: the terminal is closed, in the morning somebody stops it."""
    client = start_client(play("walk", hearing.display(), setup={"leash": Leash.FREE}))
    hearing.listen_until_lit()
    kill(client)
    hearing.listen(3)
    assert running_engines() == ("boat",)
    assert settled_status("boat").clients == ("a look, process " + str(os.getpid()),)
    link = attach("boat", client_name("morning"), control=False)
    assert wait_for(link, Plan).setup.display == hearing.display()
    link.send(TakeControl())
    link.send(Stop())
    assert wait_for(link, Ended).reason == "stopped"
    link.close()
    packets = hearing.listen_until_silent()
    assert_ended_well(packets)
    assert running_engines() == ()
    assert left_behind(own_folders) == set()


@pytest.mark.rig
def test_after_kill_9_of_the_engine_its_leavings_are_cleared(
    hearing: Hearing, engine: Begin, own_folders: Path
):
    """Nobody can end the streams then; the next start finds the way free."""
    link, process = engine()
    link.send(play("level", hearing.display()))
    wait_for(link, Plan)
    process.kill()
    process.wait()
    with pytest.raises(LinkError, match="gone without a word"):
        wait_for(link, Ended)
    assert {"boat.engine", "boat.engine.1.frame"} <= left_behind(own_folders)
    assert running_engines() == ()
    assert left_behind(own_folders) == set()
    engine()
    assert running_engines() == ("boat",)


FAILING = """
import sys
from functools import partial
from streamer.engine import outlet
from streamer.engine.process import Loop

class Failing:
    def __init__(self, sender, after):
        self._sender, self._left, self.counters = sender, after, sender.counters
        self.ways, self.complaints = {}, {}
    def send(self, packets, rows, destinations):
        self._left -= 1
        if self._left == 0:
            raise ZeroDivisionError("a fault of our own")
        self._sender.send(packets, rows, destinations)
    def prepare(self, pieces):
        return [partial(self.send, *piece) for piece in pieces]
    def close(self):
        self._sender.close()

def open_failing(setup):
    opened = outlet.open_outlet(setup)
    return outlet.Outlet(Failing(opened.data, 12), opened.discovery, opened.words)

Loop(sys.argv[1], open_failing).run()
"""


def test_a_fault_of_its_own_ends_it_well_and_is_in_the_log(hearing: Hearing, own_folders: Path):
    """An exception in the middle of the loop: dark and terminated all the same, and the client is told."""
    process = subprocess.Popen([sys.executable, "-c", FAILING, "boat"], stderr=subprocess.PIPE)
    until(lambda: bool(running_engines()))
    link = attach("boat", "a test", control=True)
    link.send(play("walk", hearing.display(), pace=40))
    ended = wait_for(link, Ended)
    assert ended.reason.startswith("the engine failed (ZeroDivisionError)")
    assert "boat.engine.log" in ended.reason
    link.close()
    assert b"a fault of our own" in process.communicate(timeout=LIMIT_S)[1]
    assert process.returncode == 1
    hearing.listen(0.05)
    for universe in (1, 2):
        last = [packet for packet in hearing.packets() if packet.key.universe == universe][-3:]
        assert all(packet.is_terminated and not any(packet.slots) for packet in last)
    assert left_behind(own_folders) == set()


@pytest.mark.rig
def test_after_a_stop_of_the_process_nothing_comes_in_a_burst(hearing: Hearing, engine: Begin):
    """SIGSTOP for a second, SIGCONT: then the usual pace; skipped frames are counted."""
    link, process = engine()
    link.send(play("walk", hearing.display(), setup={"every_frame": True}))
    hearing.listen_until_lit()
    before_s = time.monotonic()
    process.send_signal(signal.SIGSTOP)
    stopped_s = time.monotonic()
    time.sleep(1.0)
    hearing.listen(0.05)
    going_s = time.monotonic()
    process.send_signal(signal.SIGCONT)
    after_s = time.monotonic()
    until(lambda: len(moments_of(hearing, going_s)) >= 20)
    moments = moments_of(hearing, going_s)[:20]
    assert 0.45 <= moments[-1] - moments[0] <= 0.6
    assert sum(at_s - moments[0] < 0.1 for at_s in moments) <= 5
    link.send(Stop())
    skipped = wait_for(link, Ended).counts.skipped
    assert 40 * (going_s - stopped_s) - 4 <= skipped <= 40 * (after_s - before_s) + 4


def moments_of(hearing: Hearing, since_s: float) -> list[float]:
    """Listen, and return when packets of the first universe have come since then."""
    hearing.listen(0.05)
    return [each.at_s for each in hearing.packets() if each.key.universe == 1 and each.at_s > since_s]


@pytest.mark.rig
def test_a_huge_display_and_a_hostile_client_do_not_bring_it_down(hearing: Hearing, engine: Begin):
    """200,000 nodes in segments of one: refused or played, and the engine answers; so after nonsense."""
    link, process = engine()
    jetty, slipway = hearing.display().controllers
    segments = tuple(jetty.ports[0].segments[0].model_copy(update={"nodes": 1}) for _ in range(200_000))
    huge = jetty.model_copy(update={"ports": (jetty.ports[0].model_copy(update={"segments": segments}),)})
    link.send(
        play("level", hearing.display().model_copy(update={"controllers": (huge, slipway)}), level_percent=1)
    )
    assert len(wait_for(link, Plan, 60).setup.display.controllers[0].ports[0].segments) == 200_000
    link.send(Stop())
    wait_for(link, Ended, 60)
    with socket.socket(socket.AF_UNIX) as hostile:
        hostile.connect(str(Path(os.environ["ROPEWALK_RUNTIME_DIR"]) / "boat.engine"))
        hostile.sendall(b'{"kind":"play"' + bytes(1000) + b"\n")
        assert hostile.recv(1) == b""
    link.send(Dark(on=True))
    with pytest.raises(LinkError, match="Nothing is playing"):
        wait_for(link, Plan)
    assert process.poll() is None


def test_a_second_engine_of_a_live_name_is_refused(engine: Begin, monkeypatch: pytest.MonkeyPatch):
    """And the first goes on."""
    monkeypatch.setattr("streamer.link.processes.LEAVING_S", 0.1)
    link, _ = engine()
    with pytest.raises(LinkError, match="running already"):
        engine()
    link.send(Loosen(leash=Leash.FREE))
    assert wait_for(link, Status)


def test_an_engine_has_one_thread(engine: Begin):
    """None of a library's, which would take the processor from it."""
    _, process = engine()
    assert psutil.Process(process.pid).num_threads() == 1


@pytest.mark.rig
def test_an_engine_that_idles_takes_hardly_any_time(engine: Begin):
    """With a client attached and nothing to play: less than a twentieth of a core."""
    _, process = engine()
    watched = psutil.Process(process.pid)
    time.sleep(0.5)
    before = watched.cpu_times()
    time.sleep(1.5)
    after = watched.cpu_times()
    assert after.user + after.system - before.user - before.system < 0.075


def test_the_log_of_an_engine_that_said_nothing_is_not_kept(engine: Begin, own_folders: Path):
    """Only faults leave a log."""
    link, process = engine()
    log = log_path(own_folders / "run" / "boat.engine")
    assert log.exists()
    link.close()
    assert process.wait(LIMIT_S) == 0
    assert not log.exists()


def test_hello_is_kept(engine: Begin):
    """The name of a client is what it says."""
    link, _ = engine()
    link.send(Hello(client="boathouse", control=True))
    limit_s = time.monotonic() + 5
    while (clients := wait_for(link, Status).clients) != ("boathouse",):
        assert time.monotonic() < limit_s, clients
