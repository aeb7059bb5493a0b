"""A listener in a process of its own, which clients start, ask and leave."""

import select
import shutil
import socket
import tempfile
import time
from collections.abc import Callable, Iterator
from typing import TypeVar
from uuid import UUID

import pytest

from streamer.display.model import Protocol
from streamer.display.ranges import display_from_ranges
from streamer.hear.client import HearLink, running_listeners, start
from streamer.hear.messages import Close, Heard, Listen, Refused, Watch
from streamer.hear.wish import Wish, universes_of
from streamer.wire.e131 import DataPacket

pytestmark = pytest.mark.rig

LIMIT_S = 20.0
UNIVERSE = 59_001


@pytest.fixture(autouse=True)
def folder(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Keep sockets to the test."""
    place = tempfile.mkdtemp(prefix="rw")
    monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", place)
    yield
    shutil.rmtree(place, ignore_errors=True)


Kind = TypeVar("Kind", Heard, Refused)


@pytest.fixture(name="link")
def _link() -> Iterator[HearLink]:
    wish = Wish(universes={Protocol.E131: (UNIVERSE,)}, protocols=(Protocol.E131,), interface="lo")
    link = start(wish, "a test")
    yield link
    link.send(Close())
    link.close()


def next_report(link: HearLink, kind: type[Kind], is_it: Callable[[Kind], bool] = lambda _: True) -> Kind:
    """Wait for a report of a kind that is the one; what came after it is there for the next call."""
    limit_s = time.monotonic() + LIMIT_S
    while time.monotonic() < limit_s:
        arrived = link.receive()
        for place, report in enumerate(arrived):
            if isinstance(report, kind) and is_it(report):
                link.give_back(arrived[place + 1 :])
                return report
        select.select([link.fileno()], [], [], 0.1)
    raise AssertionError("not told in time")


def test_a_client_is_told_once_a_second_and_may_ask_for_more(link: HearLink):
    """Other universes, and one to watch."""
    heard = next_report(link, Heard)
    assert [universe.universe for universe in heard.universes] == [UNIVERSE]
    link.send(Listen(universes=(UNIVERSE, UNIVERSE + 1)))
    link.send(Watch(universe=UNIVERSE + 1, slot=2))
    next_report(link, Heard, lambda heard: len(heard.universes) == 2)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sock:
        packet = DataPacket(UUID(int=1), "Boathouse", UNIVERSE + 1, b"\1\2\3").encode()
        sock.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        sock.sendto(packet, (f"239.255.{UNIVERSE >> 8}.{(UNIVERSE & 255) + 1}", 5568))
    heard = next_report(link, Heard, lambda heard: bool(heard.watched and heard.watched.levels))
    assert heard.watched is not None
    assert heard.watched.levels == (1, 2, 3)
    assert running_listeners() == ("listener",)


def test_a_universe_that_cannot_be_is_refused_in_words(link: HearLink):
    """And the listener goes on."""
    link.send(Watch(universe=64_000))
    assert "1 to 63999" in next_report(link, Refused).reason
    next_report(link, Heard)


def test_a_listener_ends_when_its_client_has_gone(link: HearLink):
    """After a short grace."""
    next_report(link, Heard)
    link.close()
    limit_s = time.monotonic() + LIMIT_S
    while running_listeners():
        assert time.monotonic() < limit_s
        time.sleep(0.05)


def test_the_universes_of_a_display_are_those_that_are_sent():
    """By protocol."""
    display = display_from_ranges((3, 1), Protocol.E131, ("multicast",))
    assert universes_of(display) == {Protocol.E131: (1, 3)}
