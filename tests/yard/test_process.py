"""The yard as a process of its own: started, attached to, given faults, ended in every way it may end."""

import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from streamer.display.model import Protocol
from streamer.errors import LinkError
from streamer.link.newest import NewestFrame
from streamer.yard.client import YardLink, attach, running_yards, start, yard_processes
from streamer.yard.faults import Break, DeadNode
from streamer.yard.messages import Close, Refused, Report, SetFaults, YardStatus
from streamer.yard.process import main, yard_command
from streamer.yard.service import FRAME_S, Service
from streamer.yard.yard import Yard
from tests.of_kind import of_kind
from tests.yard.bench import data_packet, jetty, port

LIMIT_S = 20.0
GRACE_S = 2.0
OWN = f"127.{83 + os.getpid() % 100}.{os.getpid() // 100 % 250}.8"
Shed = tuple["subprocess.Popen[bytes]", YardLink]
DISPLAY = jetty([port(1, 3, 1)], address=OWN)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the sockets and frames of a test to itself."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(tmp_path))
    return tmp_path


def reports(link: YardLink) -> Iterator[Report]:
    """Yield what a yard says, for a while."""
    limit_s = time.monotonic() + LIMIT_S
    while link.is_open and time.monotonic() < limit_s:
        select.select([link], [], [], LIMIT_S)
        yield from link.receive()


def first(link: YardLink, wanted: Callable[[Report], bool]) -> Report:
    """Return the first report that satisfies `wanted`."""
    found = next(filter(wanted, reports(link)), None)
    assert found, "no such report came"
    return found


def first_status(link: YardLink, wanted: Callable[[YardStatus], bool] = lambda _: True) -> YardStatus:
    """Return the first of the yard's states that satisfies `wanted`."""
    found = first(link, lambda report: isinstance(report, YardStatus) and wanted(report))
    return of_kind(YardStatus, found)


def send(*packets: bytes) -> None:
    """Send packets to the yard."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as sender:
        for packet in packets:
            sender.sendto(packet, (OWN, 5568))


def until(is_so: Callable[[], bool]) -> None:
    """Wait until something is so; fail if it takes too long."""
    limit_s = time.monotonic() + LIMIT_S
    while not is_so():
        assert time.monotonic() < limit_s
        time.sleep(0.02)


@pytest.fixture(name="shed")
def _shed(folder: Path) -> Iterator[Shed]:
    """Start a yard called shed by hand, for nobody in particular, and attach to it."""
    assert folder.exists()
    command = [sys.executable, "-m", "streamer.yard.process", "shed"]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as process:
        try:
            assert process.stdin
            process.stdin.write(DISPLAY.model_dump_json().encode())
            process.stdin.close()
            until(lambda: running_yards() == ("shed",))
            with closing(attach("shed")) as link:
                yield process, link
        finally:
            process.kill()


@pytest.mark.rig
def test_a_started_yard_shows_what_arrives_and_ends_when_it_is_left(folder: Path):
    """Real packets reach the shared frame and the report; faults apply at once; nothing is left behind."""
    link = start(DISPLAY, "screen, process 4711")
    status = first_status(link)
    assert (status.started_by, status.ports[0].packets) == ("screen, process 4711", 0)
    frame = NewestFrame.open(Path(status.frame_path))
    send(data_packet(1, bytes([255, 0, 0] * 3)))
    until(lambda: frame.look()[1].nodes[:, 0].tolist() == [255, 255, 255])
    link.send(SetFaults(port="jetty/1", faults=(Break(after=1),)))
    until(lambda: frame.look()[1].nodes[:, 0].tolist() == [255, 0, 0])
    seen = first_status(link, lambda status: bool(status.ports[0].faults)).ports[0]
    assert (seen.packets, seen.lit, seen.faults) == (1, 1, ("breaks after node 1",))
    link.send(SetFaults(port="jetty/1", faults=(DeadNode(node=4),)))
    refused = of_kind(Refused, first(link, lambda report: isinstance(report, Refused)))
    assert "there is no node 4" in refused.reason
    assert running_yards() == ("yard",)
    second = attach("yard")
    link.close()
    assert first_status(second)
    left_s = time.monotonic()
    second.close()
    until(lambda: not list(folder.glob("*.yard")))
    assert time.monotonic() - left_s > GRACE_S - 0.5
    until(lambda: [path.name for path in folder.iterdir()] == [".lock"])
    assert running_yards() == ()


def test_the_shared_frame_is_made_fifty_times_a_second_at_most_and_never_falls_behind(folder: Path):
    """A large yard would do nothing else if it made one for every few packets; the last one still shows."""
    yard = Yard(DISPLAY)
    with closing(Service(yard, "shed", "", 0.0)) as service:
        frame = NewestFrame.open(folder / "shed.yard.frame")
        made = frame.look()[0]
        for turn in range(1, 20):
            yard.take(data_packet(1, bytes([turn] * 9), turn), Protocol.E131, turn / 1000)
            service.serve(turn / 1000, has_news=True)
        assert frame.look()[0] == made
        service.serve(FRAME_S, has_news=False)
        number, newest = frame.look()
    assert number == made + 1
    assert newest.nodes[:, :3].tolist() == [[19, 19, 19]] * 3


@pytest.mark.rig
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP, None])
def test_a_yard_ends_well_by_a_signal_or_a_request(shed: Shed, folder: Path, number: int | None):
    """Its files are gone, its port is free, and its exit code is 0."""
    process, link = shed
    assert first_status(link).started_by == ""
    if number is None:
        link.send(Close())
    else:
        process.send_signal(number)
    assert process.wait(LIMIT_S) == 0
    list(reports(link))
    assert not link.is_open
    assert list(folder.glob("shed*")) == []
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as other:
        other.bind((OWN, 5568))


def test_a_yard_that_cannot_have_its_port_says_who_has_it():
    """`start` raises what the yard's process said."""
    with closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as holder:
        holder.bind((OWN, 5568))
        with pytest.raises(LinkError, match=f"process {os.getpid()}"):
            start(DISPLAY, "a test")


def test_a_display_that_is_none_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    """Garbage on standard input gives a sentence and exit code 1, no traceback."""
    read_end, write_end = os.pipe()
    os.write(write_end, b"{}")
    os.close(write_end)
    with os.fdopen(read_end) as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        monkeypatch.setattr(sys, "argv", ["process", "shed"])
        assert main() == 1
    assert capsys.readouterr().err.startswith("standard input: is no display")


@pytest.mark.rig
def test_the_command_writes_a_line_a_second_and_can_be_attached_to():
    """One JSON object after one second, with the faults asked for; the screen finds the yard meanwhile."""
    written: list[Any] = []
    found: list[str] = []

    def write(line: str) -> None:
        written.append(json.loads(line))
        found.extend(running_yards())
        send(data_packet(1, bytes([255, 0, 0] * 3)))
        if len(written) == 2:
            signal.raise_signal(signal.SIGTERM)

    faults = {"jetty/1": [Break(after=2)]}
    began_s = time.monotonic()
    yard_command(DISPLAY, json_lines=True, faults=faults, seconds=LIMIT_S, write=write)
    first_s, second_s = (line["seconds"] for line in written)
    assert 1 <= first_s <= second_s - 0.5
    assert 2 <= second_s <= time.monotonic() - began_s
    assert [line["ports"][0]["nodes"] for line in written] == [
        ["#000000", "#000000", "#000000"],
        ["#ff0000", "#ff0000", "#000000"],
    ]
    assert found == ["yard", "yard"]


@pytest.mark.rig
def test_what_a_killed_yard_leaves_is_cleared_away(shed: Shed, folder: Path):
    """After kill -9 the next look for yards finds none, and takes its socket and frame away."""
    process, link = shed
    assert Path(first_status(link).frame_path).parent == folder
    assert yard_processes() == {process.pid}
    process.kill()
    process.wait(LIMIT_S)
    assert list(folder.glob("shed*"))
    assert running_yards() == ()
    assert list(folder.glob("shed*")) == []


KILLED_CLIENT = """
import json, sys, time
from streamer.display.model import Display
from streamer.yard.client import start
link = start(Display.model_validate_json(sys.stdin.read()), "a screen that is killed")
print("up", flush=True)
time.sleep(60)
"""


@pytest.mark.rig
def test_after_a_killed_client_a_yard_can_be_started_again_at_once(folder: Path):
    """The one before ends by itself within seconds, and is waited for instead of being complained of."""
    assert folder.exists()
    client = subprocess.Popen(
        [sys.executable, "-c", KILLED_CLIENT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert client.stdin
    assert client.stdout
    with client, client.stdin, client.stdout:
        client.stdin.write(DISPLAY.model_dump_json())
        client.stdin.close()
        assert client.stdout.readline() == "up\n"
        client.kill()
    link = start(DISPLAY, "screen, process 4711")
    assert first_status(link).started_by == "screen, process 4711"
    link.close()
    until(lambda: not list(folder.glob("*.yard")))
