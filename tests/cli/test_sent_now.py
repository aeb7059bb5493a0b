"""The current of the frame now being sent: read from an engine that runs, else plainly not known."""

from pathlib import Path

import pytest

from streamer.cli.sent_now import NO_ENGINE, sent_now
from streamer.display.sample import sample_display


def test_without_an_engine_it_is_said_plainly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """In a sentence; and there is no number."""
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", str(tmp_path))
    assert sent_now(sample_display()) == (None, NO_ENGINE)
