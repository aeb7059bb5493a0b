"""Other sources on our universes: looked out for beside the run, and in nobody's way."""

import math
import os
from collections.abc import Callable, Iterable, Sequence

from streamer.display.patch import Stream
from streamer.engine.client import client_name
from streamer.hear.client import start
from streamer.hear.conflicts import Conflict, Winner, by_source, sentences
from streamer.hear.keeper import Start
from streamer.hear.lookout import Lookout
from streamer.hear.notes import source_text
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Severity

HOLD_S = 2.0
"""A source that comes and goes within that is one event."""
TURN_MOST_S = 1.0
"""Of a longer time between two looks no more counts: the listener was held as well, and is not silent."""


class OthersWatch(Quiet):
    """Tells who else sends what we send, by a listener in a process of its own."""

    name = "other sources"

    def __init__(
        self,
        streams: Iterable[Stream],
        interface: str | None,
        our_cid: Callable[[], str],
        times_made: Callable[[], int],
        start_listener: Start = start,
    ) -> None:
        """Watch what these send; `times_made` tells how often the interface was made anew."""
        self._our_cid, self._times_made = our_cid, times_made
        self._made, self._cid = 0, ""
        self._looked_s = -math.inf
        self._now_s = 0.0
        """Goes on with the looks, and stands still while nobody looks."""
        self._lookout = Lookout(client_name("ropewalk soak"), f"beside-{os.getpid()}", start_listener)
        self._lookout.send(streams, interface)

    def look(self, now_s: float) -> None:
        """Take in what the listener has told."""
        self._now_s += min(max(0.0, now_s - self._looked_s), TURN_MOST_S)
        self._looked_s = now_s
        if self._cid != (cid := self._our_cid()) and cid:
            self._cid = cid
            self._lookout.know(cid)
        if self._made != (made := self._times_made()):
            # Memberships went with the old interface, without a word.
            self._made = made
            self._lookout.renew()
        self._lookout.look(self._now_s)

    def findings(self) -> Sequence[Finding]:
        """Return one for each other source that is heard, or why nobody listens."""
        found = [_finding(group) for group in by_source(self._lookout.lasting)]
        if trouble := self._lookout.trouble:
            found.append(Finding(EventKind.NOTE, self.name, trouble.rstrip("."), Severity.REMARK))
        return found

    def close(self) -> None:
        """End the listener."""
        self._lookout.close()


def _finding(group: Sequence[Conflict]) -> Finding:
    first = group[0]
    severity = Severity.REMARK if first.winner is Winner.OURS else Severity.FAILURE
    words = " ".join(sentences(group)).rstrip(".")
    return Finding(EventKind.OTHER_SOURCE, source_text(first.source), words, severity, HOLD_S)
