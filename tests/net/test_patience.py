"""Waiting for room in a send buffer is short, whatever happens."""

import select
import socket
import time
from collections.abc import Iterator
from contextlib import suppress

import pytest

from streamer.net.patience import LEAST_S, MOST_S, SHARE, Patience

pytestmark = pytest.mark.skipif(not hasattr(select, "poll"), reason="needs poll(2)")


@pytest.fixture(name="full")
def _full() -> Iterator[socket.socket]:
    """Give a socket whose buffer is full: nobody reads at its other end."""
    near, far = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    near.setblocking(False)
    with near, far:
        with suppress(BlockingIOError):
            while near.send(b"x" * 1000):
                pass
        yield near


def test_a_socket_with_room_is_not_waited_for():
    """It is asked all the same: it may have drained meanwhile."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        assert Patience(lambda: 0.0).has_room(sock)


def test_patience_ends_and_comes_back_with_time(full: socket.socket):
    """On a cable too slow for all there is, a quarter of the time is spent waiting, no more."""
    patience, waits_s = Patience(time.monotonic), []
    for _ in range(20):
        began_s = time.monotonic()
        assert not patience.has_room(full)
        waits_s.append(time.monotonic() - began_s)
    assert waits_s[0] >= MOST_S - LEAST_S
    assert sorted(waits_s)[len(waits_s) // 2] < LEAST_S


def test_a_long_rest_earns_no_long_wait(full: socket.socket):
    """An hour without a full buffer does not allow for a second's wait; of some, the shortest counts."""
    now_s, waits_s = 0.0, []
    patience = Patience(lambda: now_s)
    for _ in range(5):
        now_s += 3600 * SHARE
        began_s = time.monotonic()
        assert not patience.has_room(full)
        waits_s.append(time.monotonic() - began_s)
    assert min(waits_s) < 10 * MOST_S
