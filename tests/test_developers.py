"""What DEVELOPERS.md says of rooms and libraries is so."""

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
SHIPPED_AS = {"netifaces": "netifaces-plus"}
"""What is imported, and the distribution that it comes in, where that has another name."""


def first_column(head: str) -> set[str]:
    """Return what stands in backticks in the first column of a table."""
    rows = TEXT.split(f"| {head} |", 1)[1].split("\n\n", 1)[0].splitlines()[2:]
    return {name for row in rows for name in re.findall(r"`([^`]+)`", row.split("|")[1] + _packages(row))}


def _packages(row: str) -> str:
    """Return what stands beside a library in the same row, as what comes with it."""
    return "".join(re.findall(r"\(with `[^`]+`\)", row))


def test_every_library_has_its_reason():
    """Those of pyproject.toml and no others."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    asked = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    named = {SHIPPED_AS.get(name, name) for name in first_column("library")}
    assert named == {re.split(r"[<>=]", each)[0] for each in asked}


def test_every_room_has_its_line():
    """Each folder of streamer/, and no folder that is gone."""
    rooms = {
        f"streamer/{folder.name}/"
        for folder in (ROOT / "streamer").iterdir()
        if (folder / "__init__.py").exists()
    }
    assert {
        name for name in first_column("room") if name.startswith("streamer/") and name.endswith("/")
    } == rooms


def test_the_packages_hold_what_was_written_for_them_and_nothing_that_a_run_left_behind():
    """Code, templates, styles, displays and pictures: no logbook, journal or capture beside the sample."""
    kinds = {
        path.suffix
        for room in ("streamer", "tui", "patterns")
        for path in (ROOT / room).rglob("*")
        if path.is_file()
    }
    assert kinds - {".pyc"} == {".py", ".j2", ".css", ".tcss", ".toml", ".svg"}
