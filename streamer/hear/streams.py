"""Which streams are known: a bounded number of sources of a bounded number of universes.

When there is no room the one silent longest gives way, if it is lost; else one of lower priority than the
newcomer; else the newcomer is refused. Each is counted, so that it can be told.
"""

from dataclasses import dataclass, field

from streamer.hear.facts import Facts, Who
from streamer.hear.headers import Headers
from streamer.hear.ledger import NEVER_S, Ledger
from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S

SOURCES_MAX = 16
"""Of one universe."""
UNIVERSES_MAX = 4_096
"""Of one protocol: more than are sent by any display."""
HEADERS_MAX = 4
"""Of one stream: two START codes, and a change of priority or name."""
FORGET_S = 300.0
"""How long a source that has gone is still shown."""


@dataclass(slots=True)
class Stream:
    """One source of one universe, and the row of its counters."""

    who: Who
    row: int
    headers: list[int] = field(default_factory=list)
    start_codes: set[int] = field(default_factory=set)


class Streams:
    """The known streams of one protocol."""

    def __init__(self, headers: Headers, ledger: Ledger) -> None:
        self._headers = headers
        self._ledger = ledger
        self._of_universe: dict[int, dict[Who, Stream]] = {}
        self.facts: dict[int, Facts] = {}
        """What each known header says."""
        self._full_until_s = NEVER_S
        self.refused = 0
        self.forgotten = 0

    def universes(self) -> list[int]:
        """Return the numbers of those that have or had a source, ascending."""
        return sorted(self._of_universe)

    def of(self, universe: int) -> list[Stream]:
        """Return the streams of a universe, in the order in which they were first heard."""
        return list(self._of_universe.get(universe, {}).values())

    def facts_of(self, stream: Stream) -> Facts:
        """Return what its newest packet of levels says."""
        return self.facts[int(self._ledger.header[stream.row])]

    def meet(self, facts: Facts, header: int, now: float) -> Stream | None:
        """Return the stream that a new header belongs to; None if there is no room for it."""
        who = facts.who
        stream = self._of_universe.get(who.universe, {}).get(who)
        if stream is None:
            if not self._make_room(facts, now):
                self.refused += 1
                return None
            stream = Stream(who, self._ledger.add(header))
            self._of_universe.setdefault(who.universe, {})[who] = stream
        elif len(stream.headers) >= HEADERS_MAX:
            self._forget_header(stream)
        stream.headers.append(header)
        stream.start_codes.add(facts.start_code)
        self.facts[header] = facts
        return stream

    def expire(self, now: float) -> None:
        """Forget what has been silent for long."""
        seen_s = self._ledger.seen_s
        for streams in list(self._of_universe.values()):
            for stream in [each for each in streams.values() if now - seen_s[each.row] >= FORGET_S]:
                self._forget(stream)

    def _make_room(self, facts: Facts, now: float) -> bool:
        universe = self._of_universe.get(facts.who.universe)
        if universe is not None and len(universe) >= SOURCES_MAX:
            return self._replace(list(universe.values()), facts, now)
        if (universe is None and len(self._of_universe) >= UNIVERSES_MAX) or self._ledger.is_full:
            return now >= self._full_until_s and self._replace_oldest(now)
        return True

    def _replace(self, streams: list[Stream], facts: Facts, now: float) -> bool:
        oldest = min(streams, key=lambda each: self._ledger.seen_s[each.row])
        lowest = min(streams, key=lambda each: self.facts_of(each).priority or 0)
        if self._is_lost(oldest, now):
            self._forget(oldest)
        elif (self.facts_of(lowest).priority or 0) < (facts.priority or 0):
            self._forget(lowest)
        else:
            return False
        self.forgotten += 1
        return True

    def _replace_oldest(self, now: float) -> bool:
        """Forget the universe that has been silent longest, if all its sources are lost."""
        seen_s = self._ledger.seen_s
        newest_s = {
            universe: max(seen_s[each.row] for each in streams.values())
            for universe, streams in self._of_universe.items()
        }
        oldest = min(newest_s, key=lambda universe: newest_s[universe])
        if now - newest_s[oldest] < DATA_LOSS_TIMEOUT_S:
            # Looking through all of them for every newcomer of a flood would take all the time there is.
            self._full_until_s = newest_s[oldest] + DATA_LOSS_TIMEOUT_S
            return False
        streams = self.of(oldest)
        for each in streams:
            self._forget(each)
        self.forgotten += len(streams)
        return True

    def _is_lost(self, stream: Stream, now: float) -> bool:
        return bool(now - self._ledger.seen_s[stream.row] >= DATA_LOSS_TIMEOUT_S)

    def _forget(self, stream: Stream) -> None:
        streams = self._of_universe[stream.who.universe]
        del streams[stream.who]
        if not streams:
            del self._of_universe[stream.who.universe]
        for header in stream.headers:
            self._headers.forget(header)
            del self.facts[header]
        self._ledger.free(stream.row)

    def _forget_header(self, stream: Stream) -> None:
        current = int(self._ledger.header[stream.row])
        oldest = next(header for header in stream.headers if header != current)
        stream.headers.remove(oldest)
        self._headers.forget(oldest)
        del self.facts[oldest]
