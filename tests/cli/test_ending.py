"""However `ropewalk send` is ended, and whenever: lights dark, streams terminated, nothing left running."""

import os
import signal
import subprocess
import time

import pytest

from streamer.wire import e131
from tests.cli.conftest import ADDRESS, LIMIT_S, Ear, assert_nothing_runs, begin
from tests.cli.warm import ROPEWALK

SEND = ("send", "level", "-u", "1-2", "--to", ADDRESS)
ENDING = (signal.SIGINT, pytest.param(signal.SIGTERM, marks=pytest.mark.slow), signal.SIGHUP)
OURS = ("/tui/", "/streamer/")
"""In a traceback. Before Python has come to our first line, Ctrl-C may well show one of its own."""


def assert_ended_well(packets: list[e131.DataPacket]) -> None:
    """Check that the last levels are zero, and three terminations follow (ANSI E1.31-2018 6.2.6)."""
    for universe in (1, 2):
        own = [packet for packet in packets if packet.universe == universe]
        is_terminated = [bool(packet.options & e131.Options.STREAM_TERMINATED) for packet in own]
        assert is_terminated[-4:] == [False, True, True, True]
        assert not any(own[-4].slots)


@pytest.mark.parametrize("number", ENDING)
def test_a_signal_ends_it_dark_and_terminated_with_exit_code_0(ear: Ear, number: signal.Signals):
    """Ctrl-C, a kill, a closed terminal."""
    command = begin(*SEND)
    ear.wait()
    command.send_signal(number)
    out, err = command.communicate(timeout=LIMIT_S)
    assert (command.returncode, err) == (0, "")
    assert "Dark and ended: stopped." in out
    assert "\x1b" not in out
    assert_ended_well(ear.heard())
    assert_nothing_runs()


@pytest.mark.rig
@pytest.mark.parametrize("delay_ms", [0, 40, 80, 120, 160, 200, 250, 300, 350, 400, 450, 500, 600, 800])
def test_ctrl_c_at_any_moment_leaves_nothing_lit_and_nothing_running(ear: Ear, delay_ms: int):
    """Also before the engine is up; if anything was sent, it was ended."""
    command = begin(*SEND)
    time.sleep(delay_ms / 1000)
    command.send_signal(signal.SIGINT)
    _, err = command.communicate(timeout=LIMIT_S)
    assert command.returncode in {0, 1, -signal.SIGINT}
    assert not any(ours in err for ours in OURS), err
    assert_nothing_runs()
    packets = ear.heard_until_quiet()
    if packets:
        assert_ended_well(packets)


@pytest.mark.rig
def test_a_killed_command_leaves_the_lights_to_its_engine_which_ends_them(ear: Ear):
    """After kill -9 the leash gives it two seconds, then dark and terminated."""
    command = begin(*SEND)
    ear.wait()
    command.kill()
    command.communicate(timeout=LIMIT_S)
    assert_nothing_runs()
    assert_ended_well(ear.heard_until_quiet())


@pytest.mark.rig
def test_a_reader_that_has_seen_enough_ends_it_dark_and_terminated(ear: Ear):
    """`ropewalk send ... | head -1`."""
    done = subprocess.run(
        ["bash", "-c", f"{ROPEWALK} {' '.join(SEND)} | head -1"],
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
    )
    assert done.stdout == "level at 30 % on 2 universes:\n"
    assert done.stderr == ""
    assert_nothing_runs()
    packets = ear.heard_until_quiet()
    if packets:
        assert_ended_well(packets)


@pytest.mark.rig
def test_nohup_keeps_it_when_the_terminal_goes(ear: Ear):
    """A hangup that is ignored from the start stays ignored; SIGTERM still ends it."""
    command = subprocess.Popen(
        ["nohup", ROPEWALK, *SEND], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    ear.wait()
    os.kill(command.pid, signal.SIGHUP)
    with pytest.raises(subprocess.TimeoutExpired):
        command.wait(0.5)
    command.terminate()
    assert command.wait(LIMIT_S) == 0
    command.communicate()
    assert_ended_well(ear.heard())
