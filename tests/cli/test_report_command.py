"""`ropewalk report` as people and scripts use it, on journals that a run of five minutes has left."""

from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest

from streamer.cli.reporting import fingerprint_of
from streamer.display.sample import SAMPLE_NAME
from streamer.soak.journal import Journal, journal_path
from streamer.soak.records import Ended, EndReason, EventKind
from tests.cli.conftest import run
from tests.soak.conftest import Clocks, event, facts, sample

Night = Callable[..., None]


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    file = tmp_path / "display.toml"
    file.write_text(resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8"), "utf-8")
    return file


@pytest.fixture(name="night")
def _night(file: Path) -> Night:
    """Write a run of five minutes; with `fails`, the cable was out in it."""

    def night(*, fails: bool = False, ends: bool = True) -> None:
        clocks = Clocks()
        told = replace(facts(asked_s=300), fingerprint=fingerprint_of(file) or "")
        with Journal(journal_path(file)) as journal:
            pen = journal.begin(told, *clocks.now)
            pen._connection.execute("PRAGMA synchronous = OFF")
            for turn in range(60):
                clocks.go(5)
                pen.sample(sample(pen.clock.moment(*clocks.now)))
                if fails and turn == 20:
                    pen.note(event(EventKind.LINK_DOWN, pen.clock.moment(*clocks.now), "eth0"))
                    clocks.go(1)
                    pen.close(EventKind.LINK_DOWN, "eth0", pen.clock.moment(*clocks.now))
            if ends:
                pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.TIME_UP))

    return night


def test_a_run_is_gone_on_with_in_its_folder_without_its_name(
    file: Path, night: Night, monkeypatch: pytest.MonkeyPatch
):
    """Where there is only one journal; whether it can be is another question."""
    monkeypatch.chdir(file.parent)
    assert run("soak", "--resume").code == 2
    night()
    told = run("soak", "--resume")
    assert told.code == 3
    assert "no run was broken off whose time is not over" in told.err
    told = run("soak", "--for", "3s")
    assert told.code == 2
    assert "it is not said of which display" in told.err


def test_a_night_is_told_in_every_form(file: Path, night: Night):
    """As text, HTML, Markdown, JSON, and as a list; the display file is the same as then."""
    night()
    text = run("report", file)
    assert (text.code, text.err) == (0, "")
    assert text.out.startswith("PASSED after 5 min at a level of 30 %, nothing to remark.\n")
    assert "has changed" not in text.out
    assert run("report", file, "--html").out.startswith("<!doctype html>")
    assert run("report", file, "--markdown").out.startswith("# PASSED after 5 min")
    told = run("report", file, "--json").json
    assert (told["verdict"], told["run"]["is_same_file"], told["watched_s"]) == ("passed", True, 300)
    assert (
        run("report", file, "--list").out
        == "1: 2025-11-30 22:00 +00:00, 5 min, dark:1m,full:4m, time is up\n"
    )


def test_the_last_run_is_told_or_the_one_asked_for(file: Path, night: Night):
    """And its exit code is the verdict's."""
    night(fails=True)
    night()
    assert run("report", file).code == 0
    failed = run("report", file, "--run", "1")
    assert failed.code == 1
    assert failed.out.startswith("FAILED after 5 min 1 s at a level of 30 %: link down (eth0) for 1.0 s.\n")
    none = run("report", file, "--run", "3")
    assert (none.code, none.out) == (1, "")
    assert none.err.endswith("display.toml.soak: there is no run 3. It has 1 to 2\n")


def test_the_only_journal_of_the_folder_is_meant_without_a_file(
    file: Path, night: Night, monkeypatch: pytest.MonkeyPatch
):
    """Of none or several, none is guessed."""
    monkeypatch.chdir(file.parent)
    none = run("report")
    assert none.code == 2
    assert none.err.startswith("FILE: there is no journal in this folder. Name the display file")
    night()
    assert run("report").out == run("report", file.with_name("display.toml.soak")).out
    file.with_name("other.toml.soak").touch()
    assert run("report").err.startswith("FILE: there are 2 journals in this folder.")


def test_what_is_not_there_or_no_journal_is_told_in_a_sentence(file: Path):
    """With what to do; and nothing is written."""
    none = run("report", file)
    assert (none.code, none.out) == (1, "")
    assert "there is no run of a night in it. Begin one: `ropewalk soak display.toml --for 8h`" in none.err
    assert [each.name for each in file.parent.iterdir()] == ["display.toml"]
    journal_path(file).write_text("dear diary\n" * 100)
    wrong = run("report", file, "--json")
    assert (wrong.code, wrong.out) == (1, "")
    assert "this is no journal. Nothing was changed. Move the file aside" in wrong.err


def test_a_broken_off_run_has_failed_and_a_changed_display_file_is_told(file: Path, night: Night):
    """What was written is told all the same; and a display file that is gone is no obstacle."""
    night(ends=False)
    file.write_text(file.read_text("utf-8") + "\n# moved\n", "utf-8")
    told = run("report", file)
    assert told.code == 1
    assert told.out.startswith(
        "FAILED after 5 min at a level of 30 %: the run was broken off and never resumed.\n"
    )
    assert "The display file has changed since: display.toml." in told.out
    file.unlink()
    assert "The display file is no longer there: display.toml." in run("report", file).out


def test_what_was_noted_meanwhile_is_told(file: Path, night: Night):
    """From the logbook beside it; one that cannot be read is told too."""
    night()
    assert run("log", file, "--note", "boathouse/1", "flickers").code == 0
    assert "boathouse/1: note: flickers." in run("report", file).out
    file.with_name("display.toml.logbook").write_text("dear diary\n" * 100)
    told = run("report", file)
    assert told.code == 0
    assert "The logbook cannot be told:" in " ".join(told.out.split())


def test_of_a_file_that_is_not_there_it_is_not_said_how_to_begin_a_night(tmp_path: Path):
    """It is a slip of the name; where only the file is gone, its nights can still be read."""
    done = run("report", tmp_path / "dispaly.toml")
    assert done.code == 1
    assert "dispaly.toml: there is no such file, and no night run of it. Check the name" in done.err
