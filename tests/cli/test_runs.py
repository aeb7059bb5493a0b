"""`ropewalk runs` beside engines that come and go."""

from collections.abc import Iterator

import pytest
from click.testing import CliRunner

from streamer.cli import runs as room
from streamer.errors import LinkError

SILENT = "boat does not answer (Connection refused)."


def listing(monkeypatch: pytest.MonkeyPatch, *lists: tuple[str, ...]) -> str:
    """Run the command where the lists of engines are these, one after another, and none of them answers."""
    asked: Iterator[tuple[str, ...]] = iter(lists)

    def refuse(_name: str) -> None:
        raise LinkError(SILENT)

    monkeypatch.setattr(room, "running_engines", lambda: next(asked))
    monkeypatch.setattr(room, "settled_status", refuse)
    done = CliRunner().invoke(room.runs)
    assert done.exit_code == 0
    return done.output


def test_a_run_that_ends_while_it_is_listed_is_no_trouble(monkeypatch: pytest.MonkeyPatch):
    """It was there when the list was made, and is not when it is asked."""
    assert listing(monkeypatch, ("boat",), ()) == "Nothing is running.\n"


def test_a_run_that_is_there_and_does_not_answer_is_told(monkeypatch: pytest.MonkeyPatch):
    """A stopped or stuck process, by its name."""
    told = listing(monkeypatch, ("boat",), ("boat",))
    assert f"boat: {SILENT}" in told
    assert "Nothing is running" not in told
