"""Fixtures: an engine under a fake clock, and folders for real processes."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.engine.bench import Bench


@pytest.fixture(name="bench")
def _bench() -> Bench:
    return Bench()


@pytest.fixture(name="own_folders")
def _own_folders(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give the processes of a test folders of their own, with names short enough for a local socket."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{folder}/run")
        monkeypatch.setenv("ROPEWALK_CONFIG_DIR", f"{folder}/config")
        yield Path(folder)
