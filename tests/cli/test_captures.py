"""`ropewalk record`, `ropewalk replay` and `ropewalk send --record`, as scripts use them."""

import os
import pty
import signal
import subprocess
import time
from pathlib import Path

import pytest

from streamer.capture.reading import read_capture
from streamer.capture.writing import CaptureWriter
from streamer.replay.contents import playable
from streamer.wire.e131 import DataPacket, SyncPacket
from tests.cli.conftest import ADDRESS, LIMIT_S, begin, run
from tests.cli.warm import ROPEWALK
from tests.replay.test_survey import blinking

pytestmark = pytest.mark.slow

SEND = ("send", "count", "-u", "7,8", "--to", ADDRESS, "--seconds", "0.6")


@pytest.fixture(name="evening", scope="module")
def _evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a capture of what a run sent."""
    path = tmp_path_factory.mktemp("captures") / "evening.pcapng"
    assert run(*SEND, "--sync", "7999", "--record", path).code == 0
    return path


def test_what_is_sent_is_kept_from_the_first_packet_to_the_last(evening: Path):
    """The levels of both universes, synchronization after them, and the end: ANSI E1.31-2018 6.2.6."""
    packets = [playable(datagram) for datagram in read_capture(evening)]
    levels = [each for each in packets if isinstance(each, DataPacket)]
    assert {each.universe for each in levels} == {7, 8}
    assert {each.sync_address for each in packets if isinstance(each, SyncPacket)} == {7999}
    for universe in (7, 8):
        of_one = [each for each in levels if each.universe == universe]
        first = of_one[0].sequence
        assert [each.sequence for each in of_one] == [(first + n) % 256 for n in range(len(of_one))]
        assert [each.options & 0x40 for each in of_one[-4:]] == [0, 0x40, 0x40, 0x40]


def test_a_look_says_what_is_in_it_and_sends_nothing(evening: Path):
    """Exit code 0; the keys that the README lists."""
    done = run("replay", evening, "--look", "--json")
    assert done.code == 0
    assert list(done.json) == [
        *("packets", "passed_over", "lasts_s", "is_cut_short", "flashes_from_s", "streams"),
    ]
    told = [(each["protocol"], each["universe"], each["destination"]) for each in done.json["streams"]]
    assert told == [("e131", 7, ADDRESS), ("e131", 8, ADDRESS)]
    assert list(done.json["streams"][0]) == ["protocol", "universe", "source", "destination", "flashes"]


def test_it_is_sent_again_and_the_json_has_keys_that_stay(evening: Path):
    """To one's own loopback address, where nobody listens: no fault of what was sent."""
    done = run("replay", evening, "--json")
    assert done.code == 0, done.err
    assert list(done.json)[6:] == ["sent", "late", "is_whole", "errors"]
    assert done.json["sent"] == done.json["packets"]
    assert done.json["is_whole"]


def test_ctrl_c_ends_it_in_part_with_exit_code_1(tmp_path: Path):
    """And says how far it came."""
    path = flashing(tmp_path, 2, 20_000)
    player = begin("replay", str(path), "--to", ADDRESS)
    assert player.stdout
    player.stdout.readline()
    player.send_signal(signal.SIGINT)
    out, err = player.communicate(timeout=20)
    assert player.returncode == 1
    assert "then dark and ended" in out
    assert "Traceback" not in err


def flashing(folder: Path, times: int, period_ms: float) -> Path:
    """Return a capture that flashes."""
    path = folder / "flashing.pcapng"
    with CaptureWriter(path, "Ropewalk") as writer:
        writer.write(blinking(times, period_ms))
    return path


def test_a_capture_that_flashes_is_refused_and_says_the_word(tmp_path: Path):
    """WCAG 2.x success criterion 2.3.1; with the word, typed in full, or slowly, it goes."""
    path = flashing(tmp_path, 5, 100)
    refused = run("replay", path, "--to", ADDRESS)
    assert refused.code == 1
    assert "from 0.3 s on lights would flash more than 3 times in a second (universe 7" in refused.err
    assert run("replay", path, "--to", ADDRESS, "--understood", "seizure").code == 1
    assert run("replay", path, "--to", ADDRESS, "--understood", "seizures").code == 0
    assert run("replay", path, "--to", ADDRESS, "--speed", "0.25").code == 0


@pytest.mark.parametrize(
    ("words", "code", "why"),
    [
        (("replay", "nowhere.pcapng"), 1, "nowhere.pcapng: there is no such file. Check the name."),
        (("replay", "mine.txt"), 1, "mine.txt: it is no capture of the pcapng format"),
        (("replay", "mine.txt", "--to", "lamp"), 2, "--to: 'lamp' is no address"),
        (("record", "mine.txt", "--seconds", "0.1"), 1, "mine.txt: there is such a file already"),
        (("record", "no/where.pcapng", "--seconds", "0.1"), 1, "no/where.pcapng: it cannot be written"),
        ((*SEND, "--record", "mine.txt"), 1, "mine.txt: there is such a file already"),
    ],
)
def test_what_cannot_be_is_said_in_a_sentence(tmp_path: Path, words: tuple[str, ...], code: int, why: str):
    """And the file that was there is as it was."""
    (tmp_path / "mine.txt").write_text("mine")
    done = run(*words, cwd=tmp_path)
    assert (done.code, done.err.count("\n")) == (code, 1)
    assert why in done.err
    assert (tmp_path / "mine.txt").read_text() == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_recording_that_is_killed_is_kept_up_to_then(tmp_path: Path):
    """Whole packets, whatever the moment: draft-ietf-opsawg-pcapng clause 4.3."""
    path = tmp_path / "killed.pcapng"
    recorder = begin("record", str(path), "-u", "7", "--interface", "lo")
    sender = begin("send", "count", "-u", "7", "--to", ADDRESS, "--every-frame", "--seconds", "20")
    try:
        limit_s = time.monotonic() + LIMIT_S
        while not path.exists() or path.stat().st_size < 20_000:
            assert time.monotonic() < limit_s
            time.sleep(0.05)
        recorder.kill()
        recorder.communicate()
    finally:
        sender.send_signal(signal.SIGINT)
        sender.communicate()
    kept = [playable(datagram) for datagram in read_capture(path)]
    assert len(kept) > 20
    assert {each.universe for each in kept if isinstance(each, DataPacket)} == {7}
    assert run("replay", path, "--look").code == 0


def test_on_a_terminal_it_says_how_far_it_has_looked(evening: Path):
    """Of a long capture that takes minutes; the line is written over."""
    screen, inside = pty.openpty()
    try:
        words = [ROPEWALK, "replay", str(evening), "--look"]
        done = subprocess.run(words, stdout=subprocess.PIPE, stderr=inside, timeout=LIMIT_S, check=True)
        assert os.read(screen, 4096).startswith(b"\rlooking through it: ")
        assert b"looking" not in done.stdout
    finally:
        os.close(screen)
        os.close(inside)
