"""A disk that is soon full, for tests of what becomes of files then."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@contextmanager
def small_disk(folder: Path, kib: int) -> Iterator[Path]:
    """Mount a disk of so many KiB in a folder, and return where; skip where that cannot be done."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        pytest.skip("needs Linux and root, to mount a small disk")
    disk = folder / "disk"
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kib}k", "none", disk], check=True)
    try:
        yield disk
    finally:
        subprocess.run(["umount", disk], check=True)
