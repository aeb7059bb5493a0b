"""What the benches share: a reader that drains and counts, cores of their own, and how results are printed.

Loopback only. A reader is C's where there is a compiler, else Python's.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

LOOPBACK = "127.0.0.1"
SENDERS_CORE, READERS_CORE = 0, -1
END = b"."
END_AGAIN_S = 0.02
DRAIN_IN_PYTHON = """
import socket, sys
reader = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
reader.bind((sys.argv[1], int(sys.argv[2])))
print(reader.getsockname()[1], flush=True)
count, into = 0, bytearray(2048)
while reader.recv_into(into) != 1:
    count += 1
print(count)
"""
IS_QUICK = "--quick" in sys.argv


class Ending:
    """Ends a reader, and asks what it heard."""

    def __init__(self, reader: subprocess.Popen[str], address: str, port: int) -> None:
        self._reader, self._to = reader, (address, port)

    def __call__(self) -> int:
        """Send the end until it is heard: a full buffer may drop it too."""
        assert self._reader.stdout
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
            while self._reader.poll() is None:
                sock.sendto(END, self._to)
                time.sleep(END_AGAIN_S)
        return int(self._reader.stdout.readline())


@contextmanager
def reading(
    program: Path | None, address: str = LOOPBACK, port: int = 0, groups: int = 0
) -> Iterator[tuple[int, Ending]]:
    """Let a reader drain a port meanwhile, and so many groups; yield its port and how it is ended."""
    command = [sys.executable, "-S", "-c", DRAIN_IN_PYTHON, address, str(port)]
    if program is not None:
        command = [str(program), "drain", str(groups), address, str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as reader:
        pin(reader.pid, READERS_CORE)
        assert reader.stdout
        try:
            bound = int(reader.stdout.readline())
            yield bound, Ending(reader, address, bound)
        finally:
            reader.kill()


def pin(process: int, core: int) -> None:
    """Keep the sender and the reader on cores of their own, where there are two."""
    cores = list(range(os.cpu_count() or 1))
    os.sched_setaffinity(process, {cores[core]})


def compiled(folder: Path) -> Path | None:
    """Return the C program, compiled into a folder; None where there is no compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        return None
    program = folder / "wire"
    source = Path(__file__).with_name("wire.c")
    subprocess.run([compiler, "-O2", "-Wall", "-Wextra", "-o", program, source], check=True)
    return program


def asked_seconds(quick_s: float, whole_s: float) -> float:
    """Return what stands behind --seconds; else how long the quick or the whole measurement is."""
    if "--seconds" in sys.argv:
        return float(sys.argv[sys.argv.index("--seconds") + 1])
    return quick_s if IS_QUICK else whole_s


def print_found(found: object, heads: Sequence[str], rows: Sequence[Sequence[str]], *notes: str) -> None:
    """Print what was found: as JSON if that is asked for, else as a table and notes in words."""
    if "--json" in sys.argv:
        print(json.dumps(found))
        return
    widths = [max(map(len, column)) for column in zip(heads, *rows, strict=True)]
    for cells in (heads, *rows):
        first, *others = (cell.rjust(width) for cell, width in zip(cells, widths, strict=True))
        print("  ".join([first.strip().ljust(widths[0]), *others]))
    print(*notes, sep="\n")
