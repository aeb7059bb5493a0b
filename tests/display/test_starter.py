"""The starter file, the sample display, and hostile changes to a file."""

import tomllib
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.display.checks import check
from streamer.display.file import load, parse
from streamer.display.layout import layout_of
from streamer.display.model import Addressing, Protocol
from streamer.display.places import Place
from streamer.display.sample import sample_display
from streamer.display.schema import FileController, FileDisplay, FileFixture, FilePort, FileSegment
from streamer.display.schema_power import FileInjection, FileLead, FileNodeKind, FileSupply
from streamer.display.slots import slots_of_string
from streamer.display.starter import starter_text, write_starter
from streamer.errors import PlanError


def test_the_starter_file_loads_without_a_problem(tmp_path: Path):
    """It is a display as it stands."""
    path = tmp_path / "mine.toml"
    write_starter(path)
    assert [port.nodes for port in load(path).ports] == [72, 50, 128]
    assert [child.name for child in tmp_path.iterdir()] == ["mine.toml"]


def keys(data: object) -> set[str]:
    """Return every key anywhere in parsed TOML (read by the standard library, not by ours)."""
    if isinstance(data, Mapping):
        return set(data) | {key for value in data.values() for key in keys(value)}
    return {key for item in data for key in keys(item)} if isinstance(data, list) else set()


def test_the_starter_file_teaches_every_key():
    """A key that is added to the format has to be added to the starter file."""
    places = (FileDisplay, FileController, FilePort, FileFixture, FileSegment)
    models = (*places, FileSupply, FileNodeKind, FileLead, FileInjection)
    known = {key for model in models for key in model.model_fields}
    assert keys(tomllib.loads(starter_text())) == known


def test_the_starter_file_shows_the_cautions():
    """They stand where the work begins, and defer to the local code."""
    for word in ("mains", "ladder", "local code", "licensed", "RCD", "seizures"):
        assert word in starter_text()


def test_a_file_is_never_overwritten(tmp_path: Path):
    """Neither a file nor a folder nor a dangling link of that name is touched."""
    (tmp_path / "file").write_text("mine")
    (tmp_path / "folder").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    for name in ("file", "folder", "link"):
        with pytest.raises(PlanError, match="left as it is"):
            write_starter(tmp_path / name)
    assert (tmp_path / "file").read_text() == "mine"
    assert not (tmp_path / "nowhere").exists()
    assert len(list(tmp_path.iterdir())) == 3


@pytest.mark.parametrize("name", ["missing/mine.toml", "a\0b", "x" * 300])
def test_a_starter_file_that_cannot_be_written_is_told_in_words(tmp_path: Path, name: str):
    """No folder, a zero octet, a name that is too long."""
    with pytest.raises(PlanError, match="cannot be written"):
        write_starter(tmp_path / name)


def test_the_sample_has_one_of_everything():
    """Both protocols and addressings, RGBW, a reversed string, skipped nodes, a strobe, a crossing."""
    display = sample_display()
    assert 500 <= sum(port.nodes for port in display.ports) <= 700
    assert {controller.protocol for controller in display.controllers} == set(Protocol)
    assert {controller.addressing for controller in display.controllers} == set(Addressing)
    assert {controller.address for controller in display.controllers} == {"127.0.0.1"}
    assert any(port.reversed for port in display.ports)
    assert any(port.skip for port in display.ports)
    assert any(len(port.colour_order) == 4 for port in display.ports)
    assert [c.name for c in display.controllers for f in c.fixtures if "strobe" in f.channels] == [
        "boathouse"
    ]
    universes = [slots_of_string(c, p)[0] for c in display.controllers for p in c.ports]
    assert any(len(np.unique(universe)) == 2 for universe in universes)
    assert any((universe[:, 0] != universe[:, -1]).any() for universe in universes)


def test_the_sample_passes_its_checks_and_has_positions():
    """Every node lies within the picture: 12 m wide, 6 m high."""
    display = sample_display()
    assert check(display, lambda _: Place("sample")) == []
    assert np.ptp(layout_of(display).positions, axis=0)[0] < 12
    assert np.ptp(layout_of(display).positions, axis=0)[1] == pytest.approx(5.95)


LINES = starter_text().splitlines()
PIECES = [
    "[", "]", "{", "}", '"', "'", "=", ",", ".", "#", "\n", "-", "0", "99999999999999999999", "1e400", "nan",
    "true", "é", "\x00", "\x1b", "\ufeff", "[[controllers]]", "[[controllers.ports]]", "universe = 1\n",
    "'''",    "2020-01-01", "[controllers]", "ports.x = 1\n", '"a\\u0041" = 1\n', "\r", "\ud800",
]  # fmt: skip

edits = st.one_of(
    st.tuples(st.just("cut"), st.integers(0, 6000), st.integers(1, 300)),
    st.tuples(st.just("put"), st.integers(0, 6000), st.sampled_from(PIECES)),
    st.tuples(st.just("line"), st.integers(0, len(LINES)), st.sampled_from(LINES)),
)


@pytest.mark.slow
@settings(max_examples=250, deadline=None)
@given(st.lists(edits, min_size=1, max_size=4))
def test_a_damaged_file_loads_or_is_a_plan_error(changes: list[tuple[str, int, object]]):
    """A display passes its checks, and an error has words that can be printed; nothing else comes out."""
    text = starter_text()
    for kind, at, what in changes:
        if kind == "cut":
            text = text[:at] + text[at + int(str(what)) :]
        elif kind == "put":
            text = text[:at] + str(what) + text[at:]
        else:
            lines = text.splitlines(keepends=True)
            text = "".join([*lines[:at], f"{what}\n", *lines[at:]])
    try:
        display = parse(text, "mine.toml")
        problems = check(display, lambda _: Place("mine"))
    except PlanError as error:
        wrong = [problem for problem in error.problems if not (problem.what and problem.instead)]
        problems = wrong + [problem for problem in error.problems if not str(problem).isprintable()]
    assert problems == []


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300))
def test_any_octets_are_a_display_or_a_plan_error(tmp_path_factory: pytest.TempPathFactory, octets: bytes):
    """Files that were never meant to be text."""
    path = tmp_path_factory.mktemp("any") / "any.toml"
    path.write_bytes(octets)
    with pytest.raises(PlanError):
        load(path)
