"""A scan's loop, which owns its clock."""

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack

from streamer.net.listener import Moment
from streamer.scan.ears import Ears
from streamer.scan.found import Found, Source
from streamer.scan.memory import REPLIES_MAX
from streamer.scan.poller import Poller
from streamer.scan.wish import Wish
from streamer.wire.announcements import Announcements

TELL_S = 0.5
REST = 4
"""To put thousands of invented devices together takes long; listening gets this many times as much."""


def watch(wish: Wish, seconds: float | None, is_over: Callable[[], bool]) -> Iterator[Found]:
    """Ask and listen until `is_over`, or for so many seconds.

    Yields what is found, twice a second where that is easy, and at the end. Raises NetworkError where nobody
    can be asked. Whatever happens, ports are freed.
    """
    broadcasts, singles = wish.broadcasts(), wish.singles()
    poller, announcements = Poller(broadcasts, singles), Announcements()
    asked = broadcasts, singles
    with ExitStack() as stack:
        ears = Ears(poller, announcements, wish.interface)
        ears.open(stack)
        began_s = now = time.monotonic()
        tell_s = began_s + TELL_S
        end_s = float("inf") if seconds is None else began_s + seconds
        while now < end_s and not is_over():
            ears.ask(now)
            ears.wait(min(poller.next_s, tell_s, end_s), now)
            now = time.monotonic()
            ears.take(Moment(now, time.time_ns()))
            if now >= tell_s:
                yield found(ears, asked, now, began_s)
                tell_s = now + max(TELL_S, REST * (time.monotonic() - now))
        yield found(ears, asked, now, began_s)


def found(ears: Ears, asked: tuple[tuple[str, ...], tuple[str, ...]], now: float, began_s: float) -> Found:
    """Return all that is known at a moment."""
    sources = [
        Source(each.name, each.cid, each.address, each.universes(), each.is_whole)
        for each in ears.announcements.lists(now)
    ]
    return Found(
        seconds=now - began_s,
        now_s=now,
        broadcasts=asked[0],
        singles=asked[1],
        polls=ears.poller.polls,
        devices=tuple(ears.poller.devices(now)),
        sources=tuple(sorted(sources, key=lambda each: (each.name, each.cid))),
        notes=(*ears.complaints, *_notes(ears.poller)),
    )


def _notes(poller: Poller) -> Iterator[str]:
    if poller.passed_over or poller.forgotten:
        yield (
            f"More devices answer than are remembered ({REPLIES_MAX} replies): {poller.passed_over} replies "
            f"passed over, {poller.forgotten} of silent devices forgotten."
        )
    if poller.malformed:
        datagrams = "datagram is" if poller.malformed == 1 else "datagrams are"
        yield f"{poller.malformed} {datagrams} no Art-Net, the latest {poller.last_malformed}."
