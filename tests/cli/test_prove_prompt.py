"""`ropewalk prove` by prompt: one key an answer, on a terminal of its own."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import termios
import time
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

from streamer.cli.asking import find_command, target
from streamer.display.sample import SAMPLE_NAME
from streamer.logbook.records import Kind, Sort, Subject
from streamer.logbook.store import logbook_path, read_logbook
from tests.cli.conftest import LIMIT_S
from tests.cli.warm import ROPEWALK

pytestmark = pytest.mark.rig

ROWS, COLUMNS = 24, 40


class Terminal:
    """A narrow terminal with the command on it."""

    def __init__(self, *words: str | Path) -> None:
        self._screen, self.inside = pty.openpty()
        self._unread = b""
        fcntl.ioctl(self.inside, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, COLUMNS, 0, 0))
        self.before = termios.tcgetattr(self.inside)
        self.process = subprocess.Popen(
            [ROPEWALK, *map(str, words)],
            stdin=self.inside,
            stdout=self.inside,
            stderr=self.inside,
            start_new_session=True,
            env={name: value for name, value in os.environ.items() if name not in {"COLUMNS", "LINES"}},
        )

    def read_until(self, words: str) -> str:
        """Return what is printed up to these words, and keep what came with them for the next reading."""
        limit_s = time.monotonic() + LIMIT_S
        while words.encode() not in self._unread:
            assert time.monotonic() < limit_s, self._unread.decode()
            if select.select([self._screen], [], [], 0.1)[0]:
                self._unread += os.read(self._screen, 65_536)
        before, mark, self._unread = self._unread.partition(words.encode())
        return (before + mark).decode().replace("\r\n", "\n")

    def press(self, keys: str) -> None:
        """Press them, all at once."""
        os.write(self._screen, keys.encode())

    def close(self) -> None:
        """Close both ends."""
        os.close(self._screen)
        os.close(self.inside)


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    file = tmp_path / "display.toml"
    file.write_text(resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8"), "utf-8")
    return file


@pytest.fixture(name="terminal")
def _terminal(file: Path) -> Iterator[Terminal]:
    terminal = Terminal("prove", file)
    yield terminal
    terminal.process.kill()
    terminal.process.wait()
    terminal.close()


def test_one_key_answers_and_a_key_pressed_twice_answers_once(terminal: Terminal, file: Path):
    """Gloves press twice; the second must not answer the next question. At 40 columns nothing is cut."""
    printed = terminal.read_until("q  leave")
    assert max(map(len, printed.splitlines())) <= COLUMNS
    terminal.press("111")
    assert "how many" in terminal.read_until("q  leave")
    terminal.press("x")
    terminal.read_until("is none of the answers")
    terminal.read_until("q  leave")
    terminal.press("q")
    terminal.read_until("To go on where you were")
    assert terminal.process.wait(LIMIT_S) == 1
    answers = [entry for entry in read_logbook(logbook_path(file)) if entry.kind is Kind.ANSWER]
    assert [entry.look for entry in answers] == ["which"]
    assert termios.tcgetattr(terminal.inside)[3] == terminal.before[3]


def test_ctrl_c_leaves_as_q_does(terminal: Terminal):
    """With the terminal as it was."""
    terminal.read_until("q  leave")
    terminal.process.send_signal(2)
    terminal.read_until("To go on where you were")
    assert terminal.process.wait(LIMIT_S) == 1
    assert termios.tcgetattr(terminal.inside)[3] == terminal.before[3]


def test_what_to_do_next_goes_where_the_walk_went():
    """Whoever rehearsed on another address is not sent to the real controllers by a copied line."""
    string = Subject(Sort.STRING, "pier/1")
    assert find_command(target(Path("a.toml"), None), string) == "ropewalk find a.toml --port pier/1"
    rehearsed = find_command(target(Path("a.toml"), "127.0.0.1"), string)
    assert rehearsed == "ropewalk find a.toml --to 127.0.0.1 --port pier/1"
