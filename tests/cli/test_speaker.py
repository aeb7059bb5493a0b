"""Whoever is spoken to may stand still or be gone: nobody waits for it."""

import os
import select

import pytest

from streamer.cli import speaker
from streamer.cli.speaker import WAITING_MOST, Speaker


def test_what_is_said_arrives_in_its_order():
    """Also what was said last before the end."""
    heard, told = os.pipe()
    voice = Speaker(told)
    for number in range(50):
        voice.say(f"{number}\n")
    voice.close()
    os.close(told)
    with os.fdopen(heard) as lines:
        assert [int(line) for line in lines] == list(range(50))


def test_a_reader_that_stands_still_costs_words_and_no_time(monkeypatch: pytest.MonkeyPatch):
    """A pipe holds 64 KiB (pipe(7)); far more is said, and every call comes back, the last one too."""
    monkeypatch.setattr(speaker, "LAST_WORDS_S", 0.01)
    heard, told = os.pipe()
    voice = Speaker(told)
    for _ in range(10 * WAITING_MOST):
        voice.say("x" * 1_000)
    voice.close()
    # It is let go on, so that its thread ends with the test.
    drain(heard)
    voice.close()
    voice._thread.join(5)
    assert not voice._thread.is_alive()
    os.close(told)
    os.close(heard)


def drain(descriptor: int) -> None:
    """Take everything that waits, until nothing has come for a while."""
    while select.select([descriptor], [], [], 0.2)[0] and os.read(descriptor, 65_536):
        pass


def test_a_reader_that_has_gone_is_no_error():
    """As when the terminal has closed: what is said after that goes nowhere."""
    heard, told = os.pipe()
    voice = Speaker(told)
    os.close(heard)
    for _ in range(10):
        voice.say("anybody there?\n")
    voice.close()
    os.close(told)


def test_letters_that_the_terminal_does_not_know_are_replaced(monkeypatch: pytest.MonkeyPatch):
    """Names may be written in any script."""
    heard, told = os.pipe()
    voice = Speaker(told)
    monkeypatch.setattr(voice, "_encoding", "ascii")
    voice.say("Steg\u00f6\n")
    voice.close()
    assert os.read(heard, 100) == b"Steg?\n"
    os.close(heard)
    os.close(told)
