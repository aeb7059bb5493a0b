"""What is kept between runs is kept whole, or not at all."""

from pathlib import Path

import pytest

from tui import memory
from tui.memory import Memory, keep, recall


def test_what_is_kept_comes_back():
    """Every field makes the round trip."""
    kept = Memory(
        theme="sailcloth",
        display_file="a b.toml",
        universes="3",
        source="file",
        interface="eth7",
        pattern="tint",
    )
    keep(kept)
    assert recall() == (kept, "")


def test_nothing_kept_is_a_fresh_start():
    """The first evening has no memory and no complaint."""
    assert recall() == (Memory(), "")


@pytest.mark.parametrize(
    "octets", [b"", b"{", b"[]", b"\xff\xfe", b'{"theme": 7}', b'{"theme": "x' + b"y" * 70000]
)
def test_a_broken_memory_is_told_and_passed_over(tmp_path: Path, octets: bytes):
    """Whatever is in the file, the screen starts, and says that it starts afresh."""
    keep(Memory())
    (tmp_path / "config" / memory.FILE_NAME).write_bytes(octets)
    fresh, trouble = recall()
    assert fresh == Memory()
    assert "starts afresh" in trouble


def test_keeping_replaces_the_file_in_one_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """If the last step fails, the old memory is whole and no half-written file is left."""
    keep(Memory(pattern="walk"))

    def refuse(_self: Path, _target: Path) -> Path:
        raise OSError("the disk is full")

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(OSError, match="full"):
        keep(Memory(pattern="tint"))
    monkeypatch.undo()
    files = [each.name for each in (tmp_path / "config").iterdir()]
    assert files == [memory.FILE_NAME]
