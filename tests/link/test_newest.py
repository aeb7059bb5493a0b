"""The shared newest frame: whole or not at all, whatever stands in the file."""

import itertools
import stat
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from patterns.plain import Frame
from streamer.errors import LinkError
from streamer.link.newest import HEADER, MAGIC, SHOWN, NewestFrame

WRITER = """
import mmap, sys, time
from pathlib import Path
from tempfile import TemporaryDirectory
import numpy as np
from patterns.plain import Frame
from streamer.link.newest import NewestFrame
shared = NewestFrame._map(Path(sys.argv[1]), mmap.ACCESS_WRITE)
for number in range(4000):
    time.sleep(0.0001 * (number % 3))
    shared.write(Frame(np.full((2000, 4), number % 251, np.uint8), np.full(10, number % 251, np.uint8)))
"""


@pytest.mark.parametrize(("nodes", "channels"), [(0, 0), (0, 3), (5, 0), (5, 3)])
def test_a_frame_is_read_as_it_was_written(tmp_path: Path, nodes: int, channels: int):
    """With its number, which counts; before the first it is 0."""
    shared = NewestFrame.create(tmp_path / "one.frame", nodes, channels)
    reader = NewestFrame.open(tmp_path / "one.frame")
    assert reader.look()[0] == 0
    for number in (1, 2):
        shared.write(Frame(np.full((nodes, 4), number, np.uint8), np.full(channels, number + 7, np.uint8)))
        seen, frame = reader.look()
        assert seen == number
        assert frame.nodes.shape == (nodes, 4)
        assert set(frame.nodes.reshape(-1).tolist()) <= {number}
        assert frame.channels.tolist() == [number + 7] * channels


@pytest.mark.parametrize("room", [0, 3, 4])
@given(st.data())
def test_frames_laid_by_are_read_as_they_are_shown(
    tmp_path_factory: pytest.TempPathFactory, room: int, data: st.DataObject
):
    """Shown in turn and left, written between, more of them than there is room for; what is seen stays."""
    path = tmp_path_factory.mktemp("shared") / "one.frame"
    shared, number, shown = NewestFrame.create(path, 5, 3, room), 0, 0
    reader = NewestFrame.open(path)
    for _ in range(data.draw(st.integers(1, 6))):
        if data.draw(st.booleans()):
            number += 1
            shared.write(Frame(np.full((5, 4), number, np.uint8), np.full(3, number, np.uint8)))
            shown += 1
            assert _seen(reader) == (shown, number)
        values = np.arange(number + 1, number + 5, dtype=np.uint8)[:, None]
        before = _seen(reader)
        shows = shared.lay_by(np.repeat(values, 20, axis=1).reshape(4, 5, 4), np.repeat(values, 3, axis=1))
        assert _seen(reader) == before
        for at in range(data.draw(st.integers(0, 4))):
            shows[at]()
            shown += 1
            assert _seen(reader) == (shown, number + at + 1)
        number += 4


@given(st.data())
def test_only_what_is_altered_need_be_written(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject):
    """Frames that alter some nodes, and tell which, are seen whole, and so are those after one laid by."""
    path = tmp_path_factory.mktemp("shared") / "one.frame"
    shared = NewestFrame.create(path, 6, 1, 2)
    reader = NewestFrame.open(path)
    frame = Frame(np.zeros((6, 4), np.uint8), np.zeros(1, np.uint8))
    for number in range(1, data.draw(st.integers(2, 12))):
        rows = np.array(data.draw(st.lists(st.integers(0, 5), max_size=3, unique=True)), np.intp)
        frame.nodes[rows] = number
        frame.channels[:] = number
        if data.draw(st.integers(0, 4)):
            shared.write(frame, data.draw(st.sampled_from([rows, None])))
        else:
            shared.lay_by(frame.nodes[None], frame.channels[None])[0]()
        seen = reader.look()[1]
        assert seen.nodes.tolist() == frame.nodes.tolist()
        assert seen.channels.tolist() == [number]


def _seen(reader: NewestFrame) -> tuple[int, int]:
    """Return the number of the frame that is seen, and the one value that it holds."""
    number, frame = reader.look()
    (value,) = {*frame.nodes.reshape(-1).tolist(), *frame.channels.tolist()}
    return number, value


def test_only_this_user_can_open_it(tmp_path: Path):
    """Mode 0600."""
    NewestFrame.create(tmp_path / "one.frame", 1, 0)
    assert stat.S_IMODE((tmp_path / "one.frame").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["one.frame"]


def test_a_frame_is_never_torn_between_two_processes(tmp_path: Path):
    """One writes 4,000 frames, many without a pause; each that is seen is of one piece."""
    NewestFrame.create(tmp_path / "one.frame", 2000, 10)
    reader = NewestFrame.open(tmp_path / "one.frame")
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path / "one.frame")])
    last, seen, limit_s = 0, set(), time.monotonic() + 20
    while writer.poll() is None and time.monotonic() < limit_s:
        number, frame = reader.look()
        assert number >= last
        assert len({*frame.nodes.reshape(-1).tolist(), *frame.channels.tolist()}) == 1
        if number:
            assert frame.channels[0] == (number - 1) % 251
        last = number
        seen.add(number)
    assert writer.wait() == 0
    assert reader.look()[0] == 4000
    assert len(seen) > 10


def test_a_place_that_is_not_there_is_told(tmp_path: Path):
    """A file is never trusted: a frame outside of it is none."""
    shared = NewestFrame.create(tmp_path / "one.frame", 2, 0)
    shared._header["shown"] = 2
    with pytest.raises(LinkError, match="cannot be read"):
        NewestFrame.open(tmp_path / "one.frame").look()


def test_a_reader_that_was_overtaken_takes_another_look(tmp_path: Path):
    """What is shown changes while it copies, and the place that it copies from is written anew."""
    shared = NewestFrame.create(tmp_path / "one.frame", 2, 0)
    reader = NewestFrame.open(tmp_path / "one.frame")
    copy, values = reader._frame_at, iter(range(1, 6))

    def overtaken(place: int) -> Frame | None:
        frame = copy(place)
        for value in itertools.islice(values, 2):
            shared.write(Frame(np.full((2, 4), value, np.uint8), np.zeros(0, np.uint8)))
        return frame

    with patch.object(reader, "_frame_at", overtaken):
        assert _seen(reader) == (5, 5)


def test_the_word_that_says_what_is_shown_is_written_whole(tmp_path: Path):
    """Aligned to its eight octets, wherever the file is mapped: pages are aligned to more."""
    shared = NewestFrame.create(tmp_path / "one.frame", 2, 0)
    word = shared._header["shown"]
    assert SHOWN.start == word.ctypes.data - shared._header.ctypes.data
    assert SHOWN.stop - SHOWN.start == word.itemsize
    assert word.ctypes.data % word.itemsize == 0


def test_a_reader_keeps_the_last_frame_when_the_file_is_taken_away(tmp_path: Path):
    """A plan that is replaced does not pull the picture from under the screen."""
    shared = NewestFrame.create(tmp_path / "one.frame", 1, 0)
    reader = NewestFrame.open(tmp_path / "one.frame")
    shared.write(Frame(np.full((1, 4), 9, np.uint8), np.zeros(0, np.uint8)))
    shared.remove()
    shared.remove()
    assert reader.look()[1].nodes.tolist() == [[9] * 4]
    with pytest.raises(LinkError, match="cannot be opened"):
        NewestFrame.open(tmp_path / "one.frame")


def header(nodes: int, channels: int, magic: int = MAGIC, laid_by: int = 0) -> bytes:
    """Return the octets of a header."""
    made = np.zeros(1, HEADER)
    made["laid_by"] = laid_by
    made["magic"], made["nodes"], made["channels"] = magic, nodes, channels
    return made.tobytes()


@pytest.mark.parametrize(
    "octets",
    [
        b"",
        b"x",
        header(1, 0)[:-1],
        header(1, 0),
        header(1, 0) + bytes(3),
        header(1, 0) + bytes(5),
        header(2**32 - 1, 2**32 - 1) + bytes(100),
        header(1, 0, laid_by=1) + bytes(8),
        header(1, 0, laid_by=2**32 - 1) + bytes(8),
        header(1, 0, magic=1) + bytes(4),
    ],
)
def test_a_file_that_is_no_frame_is_refused(tmp_path: Path, octets: bytes):
    """Cut short, too long, announcing what is not there, or something else altogether."""
    path = tmp_path / "one.frame"
    path.write_bytes(octets)
    with pytest.raises(LinkError):
        NewestFrame.open(path)


@given(st.binary(max_size=64))
def test_any_octets_give_a_frame_or_a_refusal(tmp_path_factory: pytest.TempPathFactory, octets: bytes):
    """Never another error."""
    path = tmp_path_factory.mktemp("hostile") / "one.frame"
    path.write_bytes(octets)
    with pytest.raises(LinkError):
        NewestFrame.open(path)


def test_a_frame_that_cannot_be_made_is_told(tmp_path: Path):
    """No such folder, no room on the disk; and what to do next."""
    with pytest.raises(
        LinkError, match=r"cannot be made \(No such file.*\)\. Make room there, or set ROPEWALK_R"
    ):
        NewestFrame.create(tmp_path / "nowhere" / "one.frame", 1, 0)
    with pytest.raises(LinkError, match="cannot be made"):
        NewestFrame.create(Path("/dev/full/one.frame"), 1, 0)


@given(st.lists(st.tuples(st.sampled_from(["write", "alter", "lay by"]), st.integers(0, 255)), max_size=20))
def test_a_frame_that_is_altered_is_the_one_shown_but_for_that(acts: list[tuple[str, int]]):
    """After whatever was shown before, and how; who looks sees each."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "altered.frame"
        shared = NewestFrame.create(path, 5, 2, 3)
        reader = NewestFrame.open(path)
        nodes, channels = np.zeros((5, 4), np.uint8), np.zeros(2, np.uint8)
        for act, value in acts:
            if act == "alter":
                rows = np.array([value % 5, (value + 2) % 5])
                nodes[rows] = value
                shared.alter(rows, nodes.view(np.uint32)[rows, 0])
            else:
                nodes, channels = np.full((5, 4), value, np.uint8), np.full(2, value, np.uint8)
                if act == "write":
                    shared.write(Frame(nodes, channels))
                else:
                    shared.lay_by(nodes[None], channels[None])[0]()
            _, seen = reader.look()
            assert np.array_equal(seen.nodes, nodes)
            assert np.array_equal(seen.channels, channels)
