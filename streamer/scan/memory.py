"""The latest ArtPollReply of each device and BindIndex: bounded, whatever arrives.

Anybody may send a reply in anybody's name, so a device is told by where its reply came from and by the
address that it says. A flood of new ones puts no known one out: room is made only by those gone silent, or,
for a device that is asked for by its address, by any that is not.
"""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from streamer.wire.art_poll_reply import (
    NO_ADDRESS,
    REPORT_COUNTER_MAX,
    ArtPollReply,
    parse_node_report,
)

POWER_ON_OK = 0x0001
"""NodeReport's code for 'power-on tests passed'."""

REPLIES_MAX = 2_048
"""Of all devices together: 8,192 ports, some 4 MB."""
REPLIES_OF_SOURCE_MAX = 512
"""Twice as many as one device can have by its BindIndex."""
OLD_S = 12.0
"""So long silent, at four polls, a reply may make room for another."""
REORDER_S = 1.0
"""Replies to one poll may overtake each other; later ones come at least this much later."""
REORDER_COUNTS = 16
"""A counter that falls by more has begun anew, however soon."""
WRAP_COUNTS = 256
"""A counter this near to its end may have gone past it since the last reply."""

Key = tuple[str, str, int]
"""Where a reply came from, the address that it says, its BindIndex."""


@dataclass(slots=True)
class Remembered:
    """A device's latest reply of one BindIndex, and what became of it over time."""

    source: str
    address: str
    reply: ArtPollReply
    first_s: float
    heard_s: float
    count: int = 1
    restarts: int = 0
    restart: str = ""
    silences: int = 0

    def renew(self, reply: ArtPollReply, now: float, *, was_silent: bool) -> None:
        """Take a newer reply, and notice whether the device was switched off and on in between."""
        self.silences += was_silent
        found = _restart(self.reply, reply, now - self.heard_s, was_silent=was_silent)
        if found:
            self.restarts += 1
            self.restart = found
        self.reply, self.heard_s = reply, now
        self.count += 1


class Memory:
    """What is remembered. Every reply is taken, renewed or passed over; nothing raises."""

    def __init__(self, wanted: Iterable[str] = ()) -> None:
        self.passed_over = 0
        """Replies that there was no room for."""
        self.forgotten = 0
        """Replies of silent devices that made room."""
        self._wanted = frozenset(wanted)
        self._replies: dict[Key, Remembered] = {}
        self._of_source: Counter[str] = Counter()

    def __len__(self) -> int:
        """Return how many replies are remembered."""
        return len(self._replies)

    def take(self, reply: ArtPollReply, source: str, now: float, *, answer_due_s: float) -> None:
        """Take a reply; whoever was not heard since `answer_due_s` has been silent too long."""
        address = source if reply.ip == NO_ADDRESS else str(reply.ip)
        key = (source, address, reply.bind_index)
        known = self._replies.pop(key, None)
        if known is not None:
            known.renew(reply, now, was_silent=known.heard_s < answer_due_s)
        elif self._has_room(source, now):
            known = Remembered(source, address, reply, now, now)
            self._of_source[source] += 1
        else:
            self.passed_over += 1
            return
        # At the end: those heard longest ago come first.
        self._replies[key] = known

    def by_device(self) -> Iterator[list[Remembered]]:
        """Yield the replies of each device, in the order of their BindIndex."""
        devices: dict[tuple[str, str], list[tuple[int, Remembered]]] = {}
        for (source, address, bind_index), each in self._replies.items():
            devices.setdefault((source, address), []).append((bind_index, each))
        for replies in devices.values():
            yield [each for _, each in sorted(replies, key=lambda pair: pair[0])]

    def _has_room(self, source: str, now: float) -> bool:
        if self._of_source[source] >= REPLIES_OF_SOURCE_MAX:
            return False
        if len(self._replies) < REPLIES_MAX:
            return True
        oldest, reply = next(iter(self._replies.items()))
        if now - reply.heard_s >= OLD_S:
            self._forget(oldest)
            return True
        other = next((key for key in self._replies if key[0] not in self._wanted), None)
        if source not in self._wanted or other is None:
            return False
        self._forget(other)
        return True

    def _forget(self, key: Key) -> None:
        del self._replies[key]
        self._of_source[key[0]] -= 1
        if not self._of_source[key[0]]:
            del self._of_source[key[0]]
        self.forgotten += 1


def _restart(before: ArtPollReply, after: ArtPollReply, passed_s: float, *, was_silent: bool) -> str:
    """Say how a restart shows between two replies, "" where it does not.

    NodeReport counts the replies since power-on; its code is 'power-on tests passed' until something else
    happens. Either alone would be a weak sign: replies overtake each other, the counter has an end.
    """
    old, new = parse_node_report(before.node_report), parse_node_report(after.node_report)
    if old is None or new is None:
        return ""
    fell = old.counter - new.counter
    is_late = passed_s < REORDER_S and fell <= REORDER_COUNTS
    is_wrapped = old.counter > REPORT_COUNTER_MAX - WRAP_COUNTS and new.counter < WRAP_COUNTS
    if fell > 0 and not is_late and not is_wrapped:
        return f"its counter of replies fell from {old.counter} to {new.counter}"
    if was_silent and new.code == POWER_ON_OK != old.code:
        return "after a silence it reports that its power-on tests passed"
    return ""
