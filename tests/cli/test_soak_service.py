"""`ropewalk soak --service`: units that systemd itself finds right, with nothing in them unmeant."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.cli.conftest import run

FILE = """
name = "Jetty"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"
[[controllers.ports]]
number = 1
universe = 1
segments = [{ nodes = 10 }]
"""
UNITS = ("ropewalk-night.service", "ropewalk-check.service", "ropewalk-check.timer")


def units(folder: Path, *options: str, name: str = "display.toml") -> dict[str, str]:
    """Return each unit that is printed, by its name, in the place where the instructions put it."""
    (folder / name).write_text(FILE)
    done = run("soak", folder / name, "--service", *options)
    assert done.code == 0, done.err
    _, *rest = re.split(r"^# ---- /etc/systemd/system/(\S+)\n", done.out, flags=re.MULTILINE)
    return dict(zip(rest[::2], rest[1::2], strict=True))


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="needs systemd-analyze")
@pytest.mark.parametrize("name", ["display.toml", "my display.toml", "50%.toml", 'a "b" $c.toml'])
def test_systemd_finds_the_units_right(tmp_path: Path, name: str):
    """systemd-analyze verify(1), also where the file's name holds what means something in a unit."""
    for unit, text in units(tmp_path, name=name).items():
        (tmp_path / unit).write_text(text)
    paths = [str(tmp_path / unit) for unit in UNITS]
    done = subprocess.run(
        ["systemd-analyze", "verify", *paths], capture_output=True, text=True, check=False, timeout=60
    )
    told = [line for line in done.stderr.splitlines() if "ropewalk" in line]
    assert done.returncode == 0, done.stderr
    assert told == []


def test_the_night_is_hardened_and_started_again(tmp_path: Path):
    """systemd.exec(5), systemd.service(5): no new privileges, a read-only system, a restart that resumes."""
    night = units(tmp_path)["ropewalk-night.service"]
    for setting in (
        "NoNewPrivileges=yes",
        "ProtectSystem=strict",
        "CapabilityBoundingSet=",
        "PrivateTmp=yes",
        "User=ropewalk",
        f"ReadWritePaths={tmp_path}",
        "Restart=on-failure",
        "RestartPreventExitStatus=1 2",
    ):
        assert setting in night.splitlines()
    assert f"soak {tmp_path}/display.toml --until 06:00 --resume\n" in night


def test_the_check_takes_ten_minutes_every_day_and_is_not_made_up_for(tmp_path: Path):
    """A timer of a calendar: systemd.timer(5)."""
    made = units(tmp_path)
    assert "--for 10m" in made["ropewalk-check.service"]
    assert "OnCalendar=*-*-* 16:30:00" in made["ropewalk-check.timer"]
    assert "Persistent=false" in made["ropewalk-check.timer"]


def test_what_was_asked_is_in_the_units(tmp_path: Path):
    """Level, interface, programme and the end of the night."""
    options = ("--until", "05:30", "--level", "60", "--interface", "eth0", "--programme", "full:5m,dark")
    night = units(tmp_path, *options)["ropewalk-night.service"]
    assert "--until 05:30 --resume --programme full:5m,dark --interface eth0 --level 60\n" in night


def test_a_folder_that_is_closed_to_others_is_named(tmp_path: Path):
    """As homes are on many systems: the unit's own user could not go there."""
    closed = tmp_path / "home"
    closed.mkdir(mode=0o700)
    (closed / "display.toml").write_text(FILE)
    done = run("soak", closed / "display.toml", "--service")
    assert f"# {closed} is closed to others: it will not work from there." in done.out.splitlines()
    closed.chmod(0o755)
    assert f"# {closed} is closed" not in run("soak", closed / "display.toml", "--service").out


def test_a_path_that_no_unit_can_hold_is_refused(tmp_path: Path):
    """A line break would begin another setting."""
    file = tmp_path / "two\nExecStartPre=lines.toml"
    file.write_text(FILE)
    done = run("soak", file, "--service")
    assert done.code == 2
    assert "a character that a unit cannot" in done.err
