"""A sender and receivers on loopback, and a wait that ends."""

import select
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any

import pytest

from streamer.net.batched import BatchedSender
from streamer.net.interfaces import Interface, find_interface
from streamer.net.receiver import Datagram, UdpReceiver
from streamer.net.sender import UdpSender

DEADLINE_S = 2.0


@pytest.fixture(name="lo")
def _lo() -> Interface:
    return find_interface("127.0.0.1")


@pytest.fixture(name="sender")
def _sender(lo: Interface) -> Iterator[UdpSender]:
    sender = UdpSender(lo)
    yield sender
    sender.close()


@pytest.fixture(name="opened")
def _opened(lo: Interface) -> Iterator[Callable[..., BatchedSender]]:
    """Open senders that are closed when the test ends."""
    with ExitStack() as stack:

        def opened(**choices: Any) -> BatchedSender:
            sender = BatchedSender(lo, **choices)
            stack.callback(sender.close)
            return sender

        yield opened


@pytest.fixture(name="listen")
def _listen() -> Iterator[Callable[..., UdpReceiver]]:
    """Open receivers that are closed when the test ends; port 0, any free one, unless told."""
    with ExitStack() as stack:
        yield lambda *args, **kwargs: stack.enter_context(UdpReceiver(*(args or (0,)), **kwargs))


@pytest.fixture(name="heard")
def _heard() -> Callable[[UdpReceiver, int], list[Datagram]]:
    """Wait until so many datagrams have arrived, and return all that have."""

    def heard(receiver: UdpReceiver, count: int) -> list[Datagram]:
        datagrams: list[Datagram] = []
        while len(datagrams) < count:
            assert select.select([receiver], [], [], DEADLINE_S)[0], (
                f"only {len(datagrams)} of {count} arrived"
            )
            datagrams += receiver.receive(limit=1000)
        return datagrams

    return heard
