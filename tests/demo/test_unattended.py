"""The demo as a whole: the engine's process, real packets over loopback, an honest verdict."""

import contextlib
import json
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from streamer.display.sample import SAMPLE_NAME
from streamer.wire import artnet, e131

pytestmark = pytest.mark.usefixtures("own_folders")

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
SAMPLE = Path(__file__).parents[2] / "streamer/display" / SAMPLE_NAME
LIMIT_S = 40
LOOK_S = 0.02


def demo(*words: str) -> "subprocess.CompletedProcess[str]":
    """Run the demo without a terminal."""
    return subprocess.run(
        [ROPEWALK, "demo", *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
        stdin=subprocess.DEVNULL,
    )


@pytest.mark.rig
def test_the_demo_finds_everything_right_and_says_what_it_checked():
    """All shows, all streams, all lights; the README's promise to scripts."""
    done = demo("--no-ui", "--json", "--seconds", "3")
    found = json.loads(done.stdout)
    assert done.returncode == 0, found["faults"]
    assert found["all_right"] is True
    assert found["shows"] == ["walk", "tint", "count", "order", "ramp", "fixtures", "dark"]
    assert found["missing"] == 0
    assert {row["text"] for row in found["arrived"]} == {
        *("universe 11", "universe 12", "universe 13", "universe 14"),
        *("Port-Address 37 (0:2:5)", "Port-Address 38 (0:2:6)"),
    }
    assert all(row["packets"] > 0 and row["is_dark"] for row in found["arrived"])
    assert all(row["terminated"] == 3 for row in found["arrived"] if row["protocol"] == "e131")
    assert sum(row["packets"] for row in found["arrived"]) == found["sent"]["counts"]["packets"]
    assert all(look["right"] and look["nodes"] == 637 and look["channels"] == 9 for look in found["lights"])
    assert found["discovery"] in ([11, 12, 13, 14], None)


@pytest.mark.rig
def test_without_a_terminal_the_demo_runs_unattended_in_plain_words():
    """No control codes, and a last line that says it."""
    done = demo("--seconds", "1")
    assert done.returncode == 0, done.stdout
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stdout.endswith("All right.\n")
    assert done.stderr == ""


@pytest.mark.parametrize("port", [e131.PORT, pytest.param(artnet.PORT, marks=pytest.mark.slow)])
def test_a_taken_port_is_told_with_exit_code_1(port: int):
    """By whom, where that can be known; in JSON too."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        with contextlib.suppress(OSError):  # then somebody else has it, which is as good
            taken.bind(("127.0.0.1", port))
        done = demo("--json")
    assert done.returncode == 1
    assert str(port) in done.stderr
    assert json.loads(done.stdout)["all_right"] is False


@pytest.mark.rig
def test_beside_a_running_yard_the_demo_says_which_runs_and_how_to_end_or_use_it():
    """Not only that a port is held by some process."""
    with subprocess.Popen([ROPEWALK, "yard", SAMPLE, "--json"], stdout=subprocess.PIPE) as yard:
        try:
            assert yard.stdout
            assert yard.stdout.readline()
            done = demo("--json")
        finally:
            yard.send_signal(signal.SIGINT)
            yard.communicate(timeout=LIMIT_S)
    assert done.returncode == 1
    assert "yard runs already: virtual controllers of" in done.stderr
    assert "End it: ropewalk stop yard. Or use it: ropewalk send walk FILE --to 127.0.0.1" in done.stderr
    assert json.loads(done.stdout)["error"] == done.stderr.strip()


@pytest.mark.rig
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_demo_that_is_stopped_early_proves_nothing_and_leaves_nothing_running(number: signal.Signals):
    """Exit code 1, no traceback, and the engine has gone."""
    from streamer.engine.client import running_engines

    command = subprocess.Popen(
        [ROPEWALK, "demo", "--no-ui"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    while not running_engines():
        assert command.poll() is None
        time.sleep(LOOK_S)
    command.send_signal(number)
    out, err = command.communicate(timeout=LIMIT_S)
    assert (command.returncode, out) == (1, "")
    assert err == "Stopped before the end, so nothing is proven.\n"
    while running_engines():
        time.sleep(LOOK_S)
