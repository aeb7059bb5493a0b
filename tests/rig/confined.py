"""Runs the ExecStart of a unit of systemd under its settings, as near as that can be had without systemd.

Run as root: `confined.py UNIT_FILE FOLDER...`; the folders, with the program and its libraries, stay in reach
though `PrivateTmp` hides what is around them. In a mount namespace of its own all is read-only but what the
unit lets be written. The user is "nobody", with no capability, no new privileges, and the unit's address
families alone: systemd.exec(5), capabilities(7), seccomp(2).
"""

import ctypes
import os
import re
import resource
import shlex
import socket
import struct
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

NOBODY = 65_534
RUNTIME, STATE = Path("/run/ropewalk"), Path("/var/lib/ropewalk")
"""%t and %S of a system's units: systemd.unit(5), "Specifiers"."""
HIDDEN = {"/tmp": 1777, "/var/tmp": 1777, "/run": 755, "/var/lib": 755, "/root": 755}  # noqa: S108
"""By a file system of our own, with these rights. An interpreter may be in root's home, closed to others."""
UNPROTECTED = ("/dev", "/proc", "/sys")
"""What ProtectSystem=strict leaves as it is."""
CLONE_NEWNS = 0x00020000
PR_CAPBSET_DROP, PR_SET_NO_NEW_PRIVS, PR_SET_SECCOMP = 24, 38, 22
SECCOMP_MODE_FILTER = 2
LOAD, JUMP_IF_EQUAL, RETURN = 0x20, 0x15, 0x06
"""BPF_LD|BPF_W|BPF_ABS, BPF_JMP|BPF_JEQ|BPF_K, BPF_RET|BPF_K of linux/bpf_common.h."""
ALLOW, REFUSE = 0x7FFF0000, 0x00050000 | 97
"""SECCOMP_RET_ALLOW; SECCOMP_RET_ERRNO with EAFNOSUPPORT."""
SYSCALL_NUMBER_AT, FIRST_ARGUMENT_AT = 0, 16
"""In struct seccomp_data."""
SOCKET_CALL = {"x86_64": 41, "aarch64": 198}
LIBC = ctypes.CDLL(None, use_errno=True)


def settings_of(text: str) -> dict[str, str]:
    """Return the settings of a unit; of one that is given twice, the last."""
    lines = (line.partition("=") for line in text.splitlines() if "=" in line and not line.startswith("#"))
    return {name: value for name, _, value in lines}


def command_of(unit: dict[str, str]) -> list[str]:
    """Return the command line, its specifiers and escapes undone."""
    return [each.replace("%%", "%").replace("$$", "$") for each in shlex.split(unit["ExecStart"])]


def protect(unit: dict[str, str], reachable: list[Path]) -> None:
    """Make a view of the files in which only the unit's own places can be written."""
    _call(LIBC.unshare(CLONE_NEWNS))
    _mount("--make-rprivate", "/")
    kept = [(os.open(each, os.O_RDONLY), each) for each in reachable]
    own = [Path(each) for each in shlex.split(unit["ReadWritePaths"])]
    writable = [(os.open(each, os.O_RDONLY), each) for each in own]
    for hidden, mode in HIDDEN.items():
        _mount("-t", "tmpfs", "-o", f"mode={mode}", "none", hidden)
    for descriptor, place in (*kept, *writable):
        place.mkdir(parents=True, exist_ok=True)
        _mount("--no-canonicalize", "--bind", f"/proc/{os.getpid()}/fd/{descriptor}", place)
        os.close(descriptor)
    for place in (RUNTIME, STATE):
        place.mkdir(mode=0o700)
        os.chown(place, NOBODY, NOBODY)
        _mount("--bind", place, place)
    written = {str(each) for each in (*own, RUNTIME, STATE, Path("/tmp"), Path("/var/tmp"))}  # noqa: S108
    mounted = re.findall(r"^\S+ \S+ \S+ \S+ (\S+)", Path("/proc/self/mountinfo").read_text(), re.MULTILINE)
    for point in mounted:
        if point not in written and not point.startswith(UNPROTECTED) and Path(point).exists():
            _mount("-o", "remount,bind,ro", point)


def give_up_rights(unit: dict[str, str]) -> None:
    """Be nobody, with no way back."""
    limit = int(unit["LimitRTPRIO"])
    # A container may not let its root raise limits; frames are only less punctual then.
    with suppress(ValueError):
        resource.setrlimit(resource.RLIMIT_RTPRIO, (limit, limit))
    os.umask(int(unit["UMask"], 8))
    last = int(Path("/proc/sys/kernel/cap_last_cap").read_text())
    for capability in range(last + 1):
        _call(LIBC.prctl(PR_CAPBSET_DROP, capability, 0, 0, 0))
    os.setgroups([])
    os.setgid(NOBODY)
    os.setuid(NOBODY)
    _call(LIBC.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0))
    allow_families([getattr(socket, each).value for each in unit["RestrictAddressFamilies"].split()])


def allow_families(families: list[int]) -> None:
    """Have socket(2) refuse every other."""
    number = SOCKET_CALL[os.uname().machine]
    jumps = [(JUMP_IF_EQUAL, len(families) - place, 0, each) for place, each in enumerate(families)]
    program = [
        (LOAD, 0, 0, SYSCALL_NUMBER_AT),
        (JUMP_IF_EQUAL, 0, len(families) + 2, number),
        (LOAD, 0, 0, FIRST_ARGUMENT_AT),
        *jumps,
        (RETURN, 0, 0, REFUSE),
        (RETURN, 0, 0, ALLOW),
    ]
    octets = b"".join(struct.pack("=HBBI", *each) for each in program)
    code = ctypes.create_string_buffer(octets, len(octets))
    header = ctypes.create_string_buffer(struct.pack("@HP", len(program), ctypes.addressof(code)))
    _call(LIBC.prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, header, 0, 0))


def _mount(*words: str | Path) -> None:
    subprocess.run(["mount", *map(str, words)], check=True)


def _call(result: int) -> None:
    if result:
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()))


def main() -> None:
    """Become what the unit says."""
    unit = settings_of(Path(sys.argv[1]).read_text())
    command = command_of(unit)
    environment = dict(each.split("=", 1) for each in shlex.split(unit["Environment"]))
    environment = {
        name: value.replace("%t", str(RUNTIME.parent)).replace("%S", str(STATE.parent))
        for name, value in environment.items()
    }
    protect(unit, [Path(each) for each in sys.argv[2:]])
    give_up_rights(unit)
    os.chdir("/")
    os.execve(  # noqa: S606  to become what systemd would start
        command[0],
        command,
        # PYTHONPATH: where the tests found the program itself.
        {
            "PATH": "/usr/local/bin:/usr/bin:/bin",
            "HOME": str(STATE),
            **({"PYTHONPATH": os.environ["PYTHONPATH"]} if "PYTHONPATH" in os.environ else {}),
            **environment,
        },
    )


if __name__ == "__main__":
    main()
