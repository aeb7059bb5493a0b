"""The printed units' own command lines, run as the units say: unprivileged, and with little to be written."""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from streamer.soak.journal import journal_path, reading
from streamer.soak.records import EndReason, EventKind
from tests.rig.cable import Cable
from tests.rig.confined import NOBODY
from tests.rig.files import JETTY

pytestmark = pytest.mark.rig

ROOT = Path(__file__).parents[2]
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
REACHABLE = (ROOT, Path(sys.prefix), Path(sys.base_prefix))
LIMIT_S = 60
DISPLAY = f'name = "Jetty"\n{JETTY}'


class Unit:
    """One of the units of a display file, started by hand on the near host."""

    def __init__(self, cable: Cable, folder: Path, name: str) -> None:
        self.cable, self.folder = cable, folder
        self.file = folder / "display.toml"
        self.file.write_text(DISPLAY)
        folder.chmod(0o755)
        for each in (folder, self.file):
            os.chown(each, NOBODY, NOBODY)
        done = subprocess.run(
            [ROPEWALK, "soak", self.file, "--service"], capture_output=True, text=True, check=True
        )
        _, *rest = re.split(r"^# ---- /etc/systemd/system/(\S+)\n", done.stdout, flags=re.MULTILINE)
        self.text = dict(zip(rest[::2], rest[1::2], strict=True))[name]

    def start(self) -> "subprocess.Popen[str]":
        """Run its command line, confined as it says."""
        unit = self.folder.with_suffix(".unit")
        unit.write_text(self.text)
        words = (sys.executable, Path(__file__).with_name("confined.py"), unit, *REACHABLE)
        command = ["ip", "netns", "exec", self.cable.near.namespace, *map(str, words)]
        return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)

    def wait_for_frames(self, before: int = 0) -> None:
        """Wait until its journal has a sample more than before."""
        limit_s = time.monotonic() + LIMIT_S
        while self.samples() <= before:
            assert time.monotonic() < limit_s, "nothing was written"
            time.sleep(0.2)

    def samples(self) -> int:
        """Return how many samples of frames that were sent its journal has of the last run."""
        with reading(journal_path(self.file)) as reader:
            runs = reader.runs()
            return sum(each.frames_sent > 0 for each in reader.samples(runs[-1].number)) if runs else 0


@pytest.fixture(name="folder")
def _folder() -> Iterator[Path]:
    """Give a folder that is not among those that units hide."""
    place = Path("/srv")
    if not os.access(place, os.W_OK):
        pytest.skip("needs root, and a folder /srv")
    folder = Path(tempfile.mkdtemp(prefix="rw", dir=place))
    yield folder
    shutil.rmtree(folder)
    folder.with_suffix(".unit").unlink(missing_ok=True)


def test_the_night_runs_as_its_unit_says_and_is_taken_up_when_systemd_starts_it_again(
    cable: Cable, folder: Path
):
    """Killed, started by the same line, stopped by SIGTERM: one run with its gap, ended well, code 0."""
    unit = Unit(cable, folder, "ropewalk-night.service")
    first = unit.start()
    try:
        unit.wait_for_frames()
    finally:
        first.kill()
        told, _ = first.communicate(timeout=LIMIT_S)
    assert "started: leaves by shed0" in told
    before = unit.samples()
    again = unit.start()
    try:
        unit.wait_for_frames(before)
        again.send_signal(signal.SIGTERM)
        told, _ = again.communicate(timeout=LIMIT_S)
    finally:
        again.kill()
    assert again.returncode == 0, told
    assert "Taken up where it was broken off" in told
    assert "Traceback" not in told
    with reading(journal_path(unit.file)) as reader:
        (run,) = reader.runs()
        events = reader.events(run.number)
    assert run.ended is not None
    assert run.ended.reason is EndReason.STOPPED
    assert [each.kind for each in events].count(EventKind.JOURNAL_GAP) == 1
    assert {each.name for each in folder.iterdir()} == {"display.toml", "display.toml.soak"}


def test_the_check_before_the_show_runs_as_its_unit_says(cable: Cable, folder: Path):
    """For eight seconds, not ten minutes; others of its group may read what it leaves."""
    unit = Unit(cable, folder, "ropewalk-check.service")
    unit.text = unit.text.replace("--for 10m", "--for 8s")
    check = unit.start()
    told, _ = check.communicate(timeout=LIMIT_S)
    assert check.returncode == 0, told
    assert "Dark and ended" in told
    assert journal_path(unit.file).stat().st_mode & 0o777 == 0o640


def test_whoever_is_confined_so_can_write_and_ask_for_nothing_else(cable: Cable, folder: Path):
    """What the other tests rest on: the confinement holds."""
    unit = Unit(cable, folder, "ropewalk-night.service")
    tries = (
        "import os, socket, sys; "
        "rest = ('/', '/etc', '/usr', '/srv', sys.prefix); "
        "[os.access(each, os.W_OK) and sys.exit(each) for each in rest]; "
        "os.access(sys.argv[1], os.W_OK) or sys.exit('not its own'); "
        "os.getuid() == 65534 or sys.exit('somebody'); "
        "socket.socket(socket.AF_PACKET, socket.SOCK_RAW)"
    )
    line = f'ExecStart={sys.executable} -c "{tries}" {folder}\n'
    unit.text = re.sub(r"^ExecStart=.*\n", line, unit.text, flags=re.MULTILINE)
    process = unit.start()
    told, _ = process.communicate(timeout=LIMIT_S)
    assert process.returncode == 1
    assert "Address family not supported by protocol" in told
