"""What is typed or piped, and how it ends."""

import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import TextIO

import pytest

from streamer.cli.keys import LINE_LIMIT_OCTETS, Keys


@contextmanager
def piped(octets: bytes) -> Iterator[TextIO]:
    """Give a file from which these octets come, and then the end."""
    reading, writing = os.pipe()
    with ExitStack() as stack:
        source = stack.enter_context(os.fdopen(reading))
        with os.fdopen(writing, "wb") as sink:
            sink.write(octets)
        yield source


def keys(source: TextIO | None, is_asked_to_end: Callable[[], bool] = lambda: False) -> Keys:
    """Return keys that attend to nothing else."""
    return Keys(source, lambda: None, is_asked_to_end)


def test_closed_standard_input_is_an_end_and_no_fault():
    """`ropewalk prove display.toml <&-`: Python has no standard input then."""
    assert keys(None).line() is None
    assert keys(None).key() is None
    assert not keys(None).is_terminal


def test_lines_come_one_by_one_and_the_last_may_have_no_end():
    """As a program may leave it when it ends."""
    with piped(b"1\nundo\n3") as source:
        typed = keys(source)
        assert [typed.line() for _ in range(4)] == ["1", "undo", "3", None]


def test_once_the_end_is_asked_for_nothing_more_is_taken():
    """Answers that wait already must not put up further looks after Ctrl-C."""
    asked: list[bool] = []
    with piped(b"1\n2\n") as source:
        typed = keys(source, lambda: bool(asked))
        assert typed.line() == "1"
        asked.append(True)
        assert typed.line() is None


@pytest.mark.parametrize("octets", [b"x" * 3 * LINE_LIMIT_OCTETS, b"\xff\xfe\n"])
def test_rubbish_is_a_line_like_any_other(octets: bytes):
    """Without an end it is not kept waiting for, and what is no UTF-8 is shown as such."""
    with piped(octets) as source:
        line = keys(source).line()
        assert line
        assert len(line) <= 2 * LINE_LIMIT_OCTETS
