"""What is asked of the operating system, and what is said of its answer."""

import os
import platform
import subprocess
import sys
from collections.abc import Callable

import pytest

from streamer.engine.punctuality import SCHED_ATTR, SCHED_SETATTR, SLICE_NS, Punctuality, System

HAS_SHORT_TURNS = (
    sys.platform.startswith("linux")
    and platform.machine() in SCHED_SETATTR
    and tuple(map(int, platform.release().split(".")[:2])) >= (6, 12)
)
"""Linux 6.12 is the first to let an ordinary process choose its turns: its documentation, sched-eevdf."""
ASK = """
from streamer.engine.punctuality import this_system
import ctypes, sys
this_system().keep_memory()
told = ctypes.create_string_buffer(int(sys.argv[2]))
assert ctypes.CDLL(None).syscall(int(sys.argv[1]), 0, told, len(told), 0) == 0
print(told.raw.hex())
"""


def refuse() -> None:
    """Stand for a system that allows nothing."""
    raise PermissionError


def grant() -> None:
    """Stand for one that allows it."""


@pytest.mark.parametrize(
    ("be_real_time", "be_nice", "words"),
    [(grant, refuse, "real-time"), (refuse, grant, "raised priority"), (refuse, refuse, "usual priority")],
)
def test_it_says_what_it_got_and_how_to_get_more(
    be_real_time: Callable[[], None], be_nice: Callable[[], None], words: str
):
    """A plain sentence; how to allow real-time is in it unless that was granted."""
    said = Punctuality(System(True, be_real_time, grant, be_nice, refuse)).words
    assert said.startswith(words)
    assert ("limits.conf" in said) is (be_real_time is refuse)


@pytest.mark.skipif(not HAS_SHORT_TURNS, reason="this system gives turns of the same length to everybody")
def test_short_turns_are_asked_for_and_given():
    """The kernel's own answer, in a process of its own: sched_getattr(2), whose number is the next one."""
    number = SCHED_SETATTR[platform.machine()] + 1
    done = subprocess.run(
        [sys.executable, "-c", ASK, str(number), str(SCHED_ATTR.size)],
        capture_output=True,
        text=True,
        check=True,
    )
    _, policy, _, nice, _, slice_ns, *_ = SCHED_ATTR.unpack(bytes.fromhex(done.stdout.strip()))
    assert (policy, nice, slice_ns) == (os.SCHED_OTHER, os.getpriority(os.PRIO_PROCESS, 0), SLICE_NS)
