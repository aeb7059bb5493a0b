"""Asks the operating system to let this process be punctual, and says in words what it allows.

None of it is needed: frames still come, some of them milliseconds late while the machine is busy. Calls are
those of Linux: sched(7), sched_setattr(2), setrlimit(2), prctl(2), mlockall(2), mallopt(3).
"""

import ctypes
import os
import platform
import struct
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

PRIORITY = 10
"""Low among the real-time priorities of 1 to 99: interrupts that are threads have 50."""
NICE = -10
UNBROKEN_RUN_US = 200_000
"""So much processor time without a wait is no frame, but a display being laid out, or a fault of ours."""
SLACK_NS = 1_000
"""Linux lets timers of a process be 50 us late unless it asks for less."""
PR_SET_TIMERSLACK = 29
MCL_CURRENT, MCL_ONFAULT = 1, 4
M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3
SLICE_NS = 100_000
"""The shortest turn at the processor that Linux grants. Who asks for short ones waits less for the next,
without any privilege: measured beside two busy processes on two cores, half as long for one frame in 100."""
SCHED_SETATTR = {"x86_64": 314, "aarch64": 274}
"""The number of the call, by machine: older C libraries have no function for it."""
SCHED_ATTR = struct.Struct("=IIQiIQQQII")
"""struct sched_attr: size, policy, flags, nice, priority, runtime, deadline, period; two of no use here."""
KEPT_OCTETS = 64 * 1024 * 1024
MMAP_OCTETS = 32 * 1024 * 1024
"""The most that mallopt takes."""

REAL_TIME = f"real-time (SCHED_FIFO, priority {PRIORITY})"
RAISED = f"raised priority (nice {NICE})"
USUAL = "usual priority"
HOW = (
    "frames may come some milliseconds late while this machine is busy. To allow real-time, add a line "
    f"'YOUR-NAME - rtprio {PRIORITY}' to /etc/security/limits.conf and log in again, or give the engine "
    "CAP_SYS_NICE"
)
ELSEWHERE = "frames may come some milliseconds late while this machine is busy"


@dataclass(frozen=True, slots=True)
class System:
    """What is asked of the operating system; each raises OSError when refused. Tests give their own."""

    has_real_time: bool
    be_real_time: Callable[[], None]
    be_usual: Callable[[], None]
    be_nice: Callable[[], None]
    keep_memory: Callable[[], None]


class Punctuality:
    """This process's standing with the scheduler, from the beginning on."""

    def __init__(self, system: System) -> None:
        self._system = system
        self._is_real_time = False
        self.is_lowered = False
        """Whether it stands back for now."""
        self.words = self._ask()

    def _ask(self) -> str:
        with suppress(OSError):
            self._system.keep_memory()
        if self._system.has_real_time:
            with suppress(OSError):
                self._system.be_real_time()
                self._is_real_time = True
                return REAL_TIME
        how = HOW if self._system.has_real_time else ELSEWHERE
        with suppress(OSError):
            self._system.be_nice()
            return f"{RAISED}; {how}"
        return f"{USUAL}; {how}"

    def lower(self) -> None:
        """Stand back: it has run for so long without a wait that others on this processor starve."""
        if self._is_real_time:
            self._system.be_usual()
            self.is_lowered = True

    def regain(self) -> None:
        """Be real-time again after a wait: it was no runaway."""
        if self.is_lowered:
            self.is_lowered = False
            with suppress(OSError):
                self._system.be_real_time()


def this_system() -> System:
    """Return the calls of the system that this runs on."""
    is_linux = sys.platform.startswith("linux")
    return System(is_linux, _be_real_time, _be_usual, _be_nice, _keep_memory if is_linux else _nothing)


def _nothing() -> None:
    """Do nothing, where a system has no such call."""


def _be_real_time() -> None:
    import resource

    # Should a loop of ours never wait again, the machine gets SIGXCPU, and so its processor back.
    hard = resource.getrlimit(resource.RLIMIT_RTTIME)[1]
    resource.setrlimit(resource.RLIMIT_RTTIME, (UNBROKEN_RUN_US, hard))
    policy = os.SCHED_FIFO | os.SCHED_RESET_ON_FORK
    os.sched_setscheduler(0, policy, os.sched_param(PRIORITY))


def _be_usual() -> None:
    os.sched_setscheduler(0, os.SCHED_OTHER | os.SCHED_RESET_ON_FORK, os.sched_param(0))


def _be_nice() -> None:
    if not hasattr(os, "setpriority"):
        raise PermissionError
    os.setpriority(os.PRIO_PROCESS, 0, NICE)


def ask_for_short_turns(process: int) -> None:
    """Give a process, 0 for this one, usual scheduling with short turns, as far as Linux knows them."""
    if platform.machine() in SCHED_SETATTR:
        nice = os.getpriority(os.PRIO_PROCESS, process)
        wanted = SCHED_ATTR.pack(SCHED_ATTR.size, os.SCHED_OTHER, 0, nice, 0, SLICE_NS, 0, 0, 0, 0)
        ctypes.CDLL(None).syscall(SCHED_SETATTR[platform.machine()], process, wanted, 0)


def _keep_memory() -> None:
    """Keep timers sharp, turns short, what is in memory there, and what a frame has freed for the next."""
    libc = ctypes.CDLL(None, use_errno=True)
    libc.prctl(PR_SET_TIMERSLACK, SLACK_NS, 0, 0, 0)
    ask_for_short_turns(0)
    # Not what is mapped later: under a limit of locked memory that would make growing fail.
    libc.mlockall(MCL_CURRENT | MCL_ONFAULT)
    if hasattr(libc, "mallopt"):
        # Else the arrays of each frame go back to the kernel, and come anew page by page.
        libc.mallopt(M_TRIM_THRESHOLD, KEPT_OCTETS)
        libc.mallopt(M_MMAP_THRESHOLD, MMAP_OCTETS)
