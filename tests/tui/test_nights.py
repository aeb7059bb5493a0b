"""What the screen has a night run begun with: the command that a person could have written."""

import signal
import subprocess
from pathlib import Path

import psutil
import pytest

from streamer.cli.soak import BESIDE_ANOTHER
from streamer.display.file import load
from streamer.display.sample import sample_display
from streamer.engine import messages
from streamer.engine.client import STOPPER, client_name, start
from streamer.engine.messages import Plan, Play, Setup, Show, Stop
from streamer.engine.waiting import wait_for
from streamer.errors import LinkError, PlanError
from streamer.soak.journal import Journal, journal_path
from streamer.soak.records import Ended, EndReason
from tests.rig.files import e131_string
from tests.soak.conftest import facts
from tests.soak.fakes import Engine
from tui import nights

NOW_S = 1_764_540_000.0
LIMIT_S = 20.0


@pytest.fixture(name="begun")
def _begun(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    begun: list[list[str]] = []
    monkeypatch.setattr(subprocess, "Popen", lambda words, **_: begun.append(words))
    return begun


@pytest.mark.parametrize(
    ("until", "words"), [("05:30", "--until 05:30"), ("8h", "--for 8h"), ("10m", "--for 10m")]
)
def test_it_is_begun_until_a_time_or_for_so_long(
    tmp_path: Path, begun: list[list[str]], until: str, words: str
):
    """With the level in hand, the interface, and how often lights may flash."""
    file = tmp_path / "display.toml"
    setup = Setup(display=sample_display(), interface="shed0", flashes_per_s=1)
    nights.begin(file, setup, 60, until, "full:5m,dark")
    (command,) = begun
    assert " ".join(command[4:]) == (
        f"soak {file} {words} --level 60 --programme full:5m,dark --interface shed0 --flashes 1"
    )


def test_one_that_was_broken_off_is_gone_on_with_as_it_was_asked_for(
    tmp_path: Path, begun: list[list[str]], monkeypatch: pytest.MonkeyPatch
):
    """Its journal knows the rest; where none was broken off nothing is begun."""
    file = tmp_path / "display.toml"
    with pytest.raises(LinkError, match="No run was broken off"):
        nights.go_on(file)
    with Journal(journal_path(file)) as journal:
        journal.begin(facts(), NOW_S, 0.0)
    monkeypatch.setattr("time.time", lambda: NOW_S + 600)
    nights.go_on(file)
    nights.go_on(file, anyway=True)
    told = [" ".join(command[4:]) for command in begun]
    assert told == [f"soak {file} --resume", f"soak {file} --resume --anyway"]


def test_one_whose_engine_is_not_there_yet_is_ended_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """By the signal that it heeds; of one that has ended nobody is signalled."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(tmp_path))
    file = tmp_path / "display.toml"
    with Journal(journal_path(file)) as journal, subprocess.Popen(["sleep", "60"]) as other:
        pen = journal.begin(facts(), NOW_S, 0.0)
        writer = f"{other.pid} {psutil.Process(other.pid).create_time()}"
        journal._connection.execute("UPDATE runs SET writer = ?", (writer,))
        nights.end(file)
        assert other.wait() == -signal.SIGTERM
        pen.end(Ended(pen.clock.moment(NOW_S, 5.0), EndReason.STOPPED))
        with pytest.raises(LinkError, match="does not answer"):
            nights.end(file)


def test_who_ends_it_calls_itself_one_who_does_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Else the report would tell a person's taking control as a remark of its own."""
    names, engine = [], Engine()

    def attach(_run: str, name: str, *, control: bool) -> Engine:
        names.append((name, control))
        return engine

    monkeypatch.setattr(nights, "attach", attach)
    nights.end(tmp_path / "display.toml")
    assert names == [(client_name(STOPPER), False)]
    assert engine.asked == [messages.TakeControl(), Stop()]


TWO_MISTAKES = """
name = "Jetty"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"
slots = 900
priority = 201
[[controllers.ports]]
number = 1
universe = 1
nodes = 5
"""


@pytest.mark.rig
def test_why_one_cannot_begin_is_told_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Each reason names its controller and the line."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(tmp_path))
    file = tmp_path / "display.toml"
    file.write_text(TWO_MISTAKES)
    begun = nights.begin(file, Setup(display=sample_display()), 30, "10m", "")
    assert begun.process.wait(LIMIT_S) == 1
    assert not begun.is_beside_another
    first, second = begun.last_words.splitlines()
    assert "display.toml:7: controllers.jetty.slots" in first
    assert "display.toml:8: controllers.jetty.priority" in second


@pytest.mark.rig
@pytest.mark.usefixtures("own_folders")
def test_another_run_in_the_way_is_known_by_how_the_command_ends(tmp_path: Path):
    """And `anyway` begins beside it; E1.31-2018 6.2.3 leaves to receivers what they make of the two."""
    file = tmp_path / "display.toml"
    file.write_text('name = "Jetty"' + e131_string("jetty", "127.0.0.1", 1))
    setup = Setup(display=load(file))
    other = start("other", "other")
    try:
        other.send(Play(setup=setup, show=Show(pattern="level")))
        wait_for(other, Plan)
        begun = nights.begin(file, setup, 30, "1s", "data")
        assert begun.process.wait(LIMIT_S) == BESIDE_ANOTHER
        assert begun.is_beside_another
        assert "ropewalk stop other" in begun.last_words
        begun = nights.begin(file, setup, 30, "1s", "data", anyway=True)
        assert begun.process.wait(LIMIT_S) != BESIDE_ANOTHER
        assert not begun.is_beside_another
    finally:
        other.send(Stop())
        wait_for(other, messages.Ended)
        other.close()


@pytest.mark.parametrize(("until", "programme"), [("25:00", ""), ("8x", ""), ("m", ""), ("06:00", "waltz")])
def test_what_is_written_wrong_begins_nothing(
    tmp_path: Path, begun: list[list[str]], until: str, programme: str
):
    """The sheet shows what to write instead."""
    with pytest.raises(PlanError):
        nights.begin(tmp_path / "display.toml", Setup(display=sample_display()), 30, until, programme)
    assert begun == []


def test_while_one_goes_on_no_other_is_begun(
    tmp_path: Path, begun: list[list[str]], monkeypatch: pytest.MonkeyPatch
):
    """It would be refused where nobody sees it."""
    monkeypatch.setattr("time.time", lambda: NOW_S)
    file = tmp_path / "display.toml"
    with Journal(journal_path(file)) as journal:
        journal.begin(facts(), NOW_S, 0.0)
    with pytest.raises(LinkError, match="End it first"):
        nights.begin(file, Setup(display=sample_display()), 30, "06:00", "")
    assert begun == []
