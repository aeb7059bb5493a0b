"""A walk in one process: looks become packets of `streamer.wire`, which the yard receives; no sockets."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, timezone
from itertools import count
from uuid import UUID

import numpy as np
import pytest

from patterns.plain import Moment
from patterns.registry import get, settle
from streamer.display.model import Display, Protocol
from streamer.display.neighbours import neighbours
from streamer.display.patch import Patch, compile_patch
from streamer.engine.limits import Limits
from streamer.logbook.records import Entry
from streamer.prove.checks import Check, Look
from streamer.prove.noted import NotedWalk
from streamer.wire import artnet, e131
from streamer.yard.words import parse_fault
from streamer.yard.yard import Yard

CID = UUID("5b0c1d5e-7a0d-4a55-9d9b-0d6a5f3f9b11")
LEVEL_PERCENT = 30.0
NOON = datetime(2026, 11, 28, 12, 0, tzinfo=timezone(timedelta(hours=1)))
SEQUENCES = 255


class Pages:
    """A logbook without a file."""

    def __init__(self, entries: Iterable[Entry] = ()) -> None:
        self._entries = list(entries)

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Keep entries, numbered."""
        numbers = count(len(self._entries) + 1)
        numbered = [entry.model_copy(update={"number": next(numbers)}) for entry in entries]
        self._entries += numbered
        return tuple(numbered)

    def entries(self) -> tuple[Entry, ...]:
        """Return them."""
        return tuple(self._entries)


class Stage:
    """Shows looks on a yard, as packets."""

    def __init__(self, yard: Yard, plan: Display) -> None:
        self._yard = yard
        self._patches: dict[bool, Patch] = {
            False: compile_patch(plan),
            True: compile_patch(neighbours(plan)),
        }
        self._sent = 0

    def show(self, look: Look) -> None:
        """Send every universe once."""
        pattern = get(look.pattern)
        patch = self._patches[pattern.neighbours]
        raw = pattern.render(patch.layout, Moment(look.step, 0.0), settle(pattern, look.params))
        slots = np.zeros((len(patch.streams), 512), np.uint8)
        patch.scatter(Limits(patch.layout, LEVEL_PERCENT, look.ports).apply(raw), slots)
        self._sent += 1
        for stream, levels in zip(patch.streams, slots, strict=True):
            self._send(stream.key.protocol, stream.key.universe, levels.tobytes())

    def _send(self, protocol: Protocol, universe: int, levels: bytes) -> None:
        if protocol is Protocol.E131:
            packet = e131.DataPacket(CID, "Ropewalk", universe, levels, self._sent % SEQUENCES).encode()
        else:
            packet = artnet.ArtDmx(universe, levels, self._sent % SEQUENCES + 1).encode()
        self._yard.take(packet, protocol, self._sent / 10)


def yard_of(display: Display, **faults: Sequence[str]) -> Yard:
    """Return a yard with these faults: boathouse_1=["break:20"]."""
    yard = Yard(display)
    for name, given in faults.items():
        yard.set_faults(name.replace("_", "/"), [parse_fault(fault) for fault in given])
    return yard


def told(check: Check) -> dict[str, object]:
    """Return a look as the JSON lines tell it to another program."""
    return {
        "about": check.subject.sort.value,
        "name": check.subject.name,
        "look": check.name,
        "question": check.question,
        "answers": {answer.key: answer.text for answer in check.answers},
    }


@pytest.fixture(name="pages")
def _pages() -> Pages:
    return Pages()


@pytest.fixture(name="at")
def _at() -> datetime:
    return NOON


def answer_all(noted: NotedWalk, at: datetime, key: str = "1", most: int = 10_000) -> int:
    """Answer every look that is due, or so many, with one key; return how many there were."""
    for done in range(most):
        if noted.walk.is_over:
            return done
        noted.answer(key, at)
    return most
