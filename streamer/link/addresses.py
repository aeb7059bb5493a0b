"""Where our processes' local sockets are, and who may make or clear one: one process at a time."""

import contextlib
import os
import re
import socket
from collections.abc import Iterator
from pathlib import Path

from streamer.errors import LinkError
from streamer.link.folders import RUNTIME_VARIABLE, runtime_folder

ADDRESS_LIMIT_OCTETS = 103
"""sun_path holds 104 octets on macOS and 108 on Linux, a zero included (unix(4), unix(7))."""
NAME = re.compile(r"[A-Za-z0-9_-]{1,60}")
LOCK = ".lock"
LOG = ".log"
FRAME = ".frame"
ANSWER_LIMIT_S = 0.5


def socket_path(name: str, suffix: str) -> Path:
    """Return where the process called `name` listens; LinkError for a name or a folder that cannot be."""
    if not NAME.fullmatch(name):
        raise LinkError(f"{name[:60]!r}: cannot be a name. Use letters, digits, - and _, at most 60.")
    path = runtime_folder() / f"{name}{suffix}"
    check_length(path)
    return path


def check_length(path: Path) -> None:
    """Raise LinkError for a path that no local socket can have."""
    octets = len(os.fsencode(path))
    if octets > ADDRESS_LIMIT_OCTETS:
        raise LinkError(
            f"{path}: is too long for a local socket ({octets} octets, at most {ADDRESS_LIMIT_OCTETS}). "
            f"Set {RUNTIME_VARIABLE} to a folder with a shorter name."
        )


@contextlib.contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Hold the folder's lock: a socket that is just being made looks dead to whoever would clear it."""
    import fcntl

    with (folder / LOCK).open("wb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def is_answering(path: Path) -> bool:
    """Whether somebody listens on the socket at `path`; after kill -9 the file stays but nobody does."""
    check_length(path)
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(ANSWER_LIMIT_S)
        try:
            probe.connect(str(path))
        except (ConnectionRefusedError, FileNotFoundError):
            return False
        except OSError:
            # Too busy to take us in, or not ours: somebody is there all the same.
            return True
    return True


def clear_away(path: Path) -> None:
    """Take away what a killed process left: its socket, its shared frames, and its log if it said nothing."""
    path.unlink(missing_ok=True)
    for left in path.parent.glob(f"{path.name}*{FRAME}"):
        left.unlink(missing_ok=True)
    forget_empty_log(path)


def log_path(path: Path) -> Path:
    """Return where the process that listens at `path` has its standard output and error written."""
    return path.with_name(path.name + LOG)


def forget_empty_log(path: Path) -> None:
    """Take the log away if nothing was said."""
    log = log_path(path)
    # Whoever else clears away may have been quicker.
    with contextlib.suppress(FileNotFoundError):
        if not log.stat().st_size:
            log.unlink()
