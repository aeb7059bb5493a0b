"""A loss of power, played on a disk of its own: what was acknowledged before it is there after it.

The disk is ext4 on a loop device, shut down by FS_IOC_SHUTDOWN without flushing its log: what the file
system has not been made to write by fsync is then lost. The kernel's own tests of file systems do the same
(xfstests, group "shutdown"). With synchronous=NORMAL these tests fail.
"""

import fcntl
import os
import random
import signal
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest

from tests.soak.test_kills import Writer, check, is_whole

FS_IOC_SHUTDOWN = 0x8004587D
"""_IOR('X', 125, __u32), include/uapi/linux/fs.h and fs/ext4/ext4.h of Linux."""
NO_LOG_FLUSH = 2
"""EXT4_GOING_FLAGS_NOLOGFLUSH: the disk as it is, without the log in memory."""
DISK_OCTETS = 32_000_000


@pytest.fixture(name="image")
def _image(tmp_path: Path) -> Path:
    """Make a disk in a file."""
    if not sys.platform.startswith("linux") or os.geteuid() != 0:
        pytest.skip("needs Linux and root, to mount a disk of its own")
    image = tmp_path / "disk.img"
    with image.open("wb") as file:
        file.truncate(DISK_OCTETS)
    made = subprocess.run(["mkfs.ext4", "-q", image], check=False, capture_output=True)
    if made.returncode:
        pytest.skip("needs mkfs.ext4")
    return image


@contextmanager
def mounted(image: Path) -> Iterator[Path]:
    """Mount the disk for a while; its log is played back at that."""
    place = image.with_name("mounted")
    place.mkdir(exist_ok=True)
    device = _said("losetup", "--find", "--show", image)
    try:
        _said("mount", device, place)
        try:
            yield place
        finally:
            subprocess.run(["umount", place], check=True)
    finally:
        subprocess.run(["losetup", "--detach", device], check=True)


def _said(*words: str | Path) -> str:
    """Run a command, and return what it says; skip where it cannot be.

    A loop device each time: a mount namespace made meanwhile, as `ip netns exec` makes them, may hold on to
    the last one, and with it to a file system that is shut down.
    """
    done = subprocess.run(words, check=False, capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"no loop device can be had here: {done.stderr.strip()}")
    return done.stdout.strip()


def cut_power(place: Path, process: subprocess.Popen[bytes]) -> None:
    """Let the disk take nothing more, as of now, with the process between two of its calls to the system.

    Power takes the process along with the disk. Here it would live on, and an fsync under way while the
    file system is shut down may return as if it had been done.
    """
    folder = os.open(place, os.O_RDONLY)
    process.send_signal(signal.SIGSTOP)
    while psutil.Process(process.pid).status() != psutil.STATUS_STOPPED:
        time.sleep(0.001)
    try:
        fcntl.ioctl(folder, FS_IOC_SHUTDOWN, struct.pack("I", NO_LOG_FLUSH))
    finally:
        os.close(folder)
        process.send_signal(signal.SIGCONT)


def cuts(image: Path, times: int) -> int:
    """Cut the power so many times; return how much was acknowledged, nothing of which was lost."""
    draw, acknowledged = random.Random(times), list[tuple[str, str]]()  # noqa: S311  a repeatable draw
    for turn in range(times):
        with mounted(image) as place:
            writer = Writer(place / "display.toml.soak", str(turn), subprocess.DEVNULL)
            writer.wait_for(draw.randint(2, 60))
            time.sleep(draw.uniform(0, 0.05))
            cut_power(place, writer.process)
            acknowledged += writer.heard_until_it_ends()
        with mounted(image) as place:
            check(place / "display.toml.soak", acknowledged)
            assert is_whole(place / "display.toml.soak")
    return len(acknowledged)


@pytest.mark.rig
def test_nothing_acknowledged_is_lost_by_a_loss_of_power(image: Path):
    """A few times; the long one does it forty times."""
    assert cuts(image, 3) > 0


@pytest.mark.long
def test_nothing_acknowledged_is_lost_by_forty_losses_of_power(image: Path):
    """While the run is begun, taken up and written."""
    acknowledged = cuts(image, 40)
    print(f"40 losses of power: {acknowledged} acknowledged, 0 lost")  # noqa: T201  the result
    assert acknowledged > 400
