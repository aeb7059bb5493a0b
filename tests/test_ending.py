"""How our processes are asked to end."""

import os
import signal
from collections.abc import Iterator

import pytest

from streamer.ending import ending_signals


@pytest.fixture(name="terminal")
def _terminal() -> Iterator[None]:
    """Put back what this test does about a terminal that closes."""
    before = signal.getsignal(signal.SIGHUP)
    yield
    signal.signal(signal.SIGHUP, before)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_that_asks_for_the_end_is_noted_and_then_left_to_the_others_again(number: signal.Signals):
    """Ctrl-C, kill and a closed terminal: what runs ends in order, not in the middle."""
    before = signal.getsignal(number)
    with ending_signals() as has_come:
        assert not has_come()
        os.kill(os.getpid(), number)
        assert has_come()
    assert signal.getsignal(number) == before


@pytest.mark.usefixtures("terminal")
def test_under_nohup_a_closed_terminal_ends_nothing():
    """POSIX nohup: SIGHUP is ignored from the start, and stays so."""
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    with ending_signals() as has_come:
        os.kill(os.getpid(), signal.SIGHUP)
        assert not has_come()
