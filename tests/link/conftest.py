"""A folder with a name short enough for a local socket."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture(name="folder")
def _folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="rw") as name:
        monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", name)
        yield Path(name)
