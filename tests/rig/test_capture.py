"""What a library's sender says is recorded as tshark records it beside us, and replayed as it was.

Over a cable between two hosts. `tests.rig.capture` is tshark; the sender is the library `sacn`.
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from streamer.capture.reading import read_capture
from streamer.wire import e131
from streamer.wire.e131 import Options
from tests.of_kind import of_kind
from tests.rig.cable import Cable, Host
from tests.rig.capture import capture, mark

pytestmark = [
    pytest.mark.rig,
    pytest.mark.skipif(shutil.which("tshark") is None, reason="needs tshark"),
]

LIMIT_S = 60
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
SENDER = """
import sys, time, sacn
sender = sacn.sACNsender(bind_address=sys.argv[1], fps=20, source_name="Lakeside")
sender.start()
for universe in (1, 2):
    sender.activate_output(universe)
    sender[universe].multicast = True
for frame in range(40):
    for universe in (1, 2):
        sender[universe].dmx_data = tuple((universe * 40 + slot + frame) % 256 for slot in range(512))
    time.sleep(0.05)
sender.stop()
"""


def in_host(host: Host, *command: str) -> "subprocess.Popen[str]":
    """Start a command in a host."""
    words = ["ip", "netns", "exec", host.namespace, *command]
    return subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def ropewalk(host: Host, *words: str) -> "subprocess.Popen[str]":
    """Start our command in a host."""
    return in_host(host, ROPEWALK, *words)


def test_it_records_what_tshark_captures_and_replays_the_same_octets_then_dark(cable: Cable, tmp_path: Path):
    """ANSI E1.31-2018 clauses 6.2.6 and 6.6.2 for the end."""
    near, far = cable.near, cable.far
    path, by = tmp_path / "evening.pcapng", ("--interface", far.interface)
    with capture(far.namespace, far.interface) as tshark:
        recorder = ropewalk(far, "record", str(path), "-u", "1,2", *by, "--seconds", "6", "--json")
        while not path.exists():
            assert recorder.poll() is None, recorder.communicate()
        sender = in_host(near, sys.executable, "-c", SENDER, near.address)
        _, complaints = sender.communicate(timeout=LIMIT_S)
        assert sender.returncode == 0, complaints
        told, complaints = recorder.communicate(timeout=LIMIT_S)
        assert recorder.returncode == 0, complaints
        with near.inside():
            mark(near.interface)
        beside_us = [each for each in tshark.until_marked() if not each.destination.endswith("250.214")]
    ours = list(read_capture(path))
    said = json.loads(told)
    assert (said["packets"], said["dropped"], said["universes"]) == (len(ours), 0, 2)
    ours = [each for each in ours if not each.destination[0].endswith("250.214")]
    assert len(ours) > 60
    assert {each.source[0] for each in ours} == {near.address}
    assert [(each.destination[0], each.octets) for each in ours] == [
        (each.destination, each.payload) for each in beside_us[-len(ours) :]
    ]

    with capture(far.namespace, far.interface) as tshark:
        player = ropewalk(near, "replay", str(path), "--interface", near.interface, "--speed", "2", "--json")
        told, complaints = player.communicate(timeout=LIMIT_S)
        assert player.returncode == 0, complaints
        with near.inside():
            mark(near.interface)
        replayed = [(each.destination, each.payload) for each in tshark.until_marked()]
    assert json.loads(told)["sent"] == len(ours)
    assert replayed[: len(ours)] == [(each.destination[0], each.octets) for each in ours]
    ends = [of_kind(e131.DataPacket, e131.parse(octets)) for _, octets in replayed[len(ours) :]]
    assert all(not any(each.slots) or Options.STREAM_TERMINATED in each.options for each in ends)
