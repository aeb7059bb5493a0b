"""Other sources on our universes: listened for beside the run, and in nobody's way."""

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from uuid import UUID

from streamer.display.model import Protocol
from streamer.display.patch import Stream
from streamer.errors import RopewalkError
from streamer.hear.conflicts import Conflict, Ours, Winner, conflicts, sentences
from streamer.hear.ears import Ears
from streamer.hear.notes import source_text
from streamer.hear.table import Table
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import find_interface, list_interfaces
from streamer.soak.findings import Finding, Quiet
from streamer.soak.records import EventKind, Severity
from streamer.wire.acn import CID_OCTET

LOOK_EACH_S = 1.0
AGAIN_S = 10.0
"""Between two attempts to listen."""
HOLD_S = 2.0
"""A source that comes and goes within that is one event."""

Priorities = Mapping[tuple[Protocol, int], int]


def priorities_of(streams: Sequence[Stream]) -> Priorities:
    """Return the priority of every universe that others could send too; loopback is this machine's."""
    return {
        (stream.key.protocol, stream.key.universe): stream.controller.priority
        for stream in streams
        if not is_loopback(stream.key.address)
    }


class OthersWatch(Quiet):
    """Hears who else sends. What it cannot hear is raised from `look`, and tried again."""

    name = "other sources"

    def __init__(
        self,
        priorities: Priorities,
        interface: str | None,
        our_cid: Callable[[], str],
        times_made: Callable[[], int],
        clock: Callable[[], float],
    ) -> None:
        """Watch these universes; `times_made` tells how often the interface was made anew.

        `clock` is the one that the ears go by: `time.monotonic`.
        """
        self._clock = clock
        self._priorities = priorities
        self._interface = interface
        self._our_cid = our_cid
        self._times_made = times_made
        self._made = 0
        self._cid = ""
        self._stack = ExitStack()
        self._ears: Ears | None = None
        self._looked_s = self._tried_s = float("-inf")
        self._findings: tuple[Finding, ...] = ()
        self._addresses: frozenset[str] = frozenset()

    def look(self, now_s: float) -> None:
        """Take in what waits, and once a second see who is there."""
        if not self._priorities:
            return
        if self._made != self._times_made():
            # Memberships went with the old interface, without a word.
            self._made = self._times_made()
            self.close()
        if self._ears is None:
            if now_s - self._tried_s < AGAIN_S and self._tried_s >= 0:
                return
            self._tried_s = now_s
            self._open()
        self._hear(now_s)

    def findings(self) -> Sequence[Finding]:
        """Return one for each other source that is heard."""
        return self._findings

    def filenos(self) -> Sequence[int]:
        """None: what is heard gathers until the next look."""
        return ()

    def close(self) -> None:
        """Free the ports."""
        self._stack.close()
        self._ears, self._cid = None, ""
        self._tried_s = float("-inf")

    def _open(self) -> None:
        protocols = sorted({protocol for protocol, _ in self._priorities})
        asked = {
            protocol: tuple(universe for each, universe in self._priorities if each is protocol)
            for protocol in protocols
        }
        try:
            ears = Ears(
                Table(asked, self._clock()), find_interface(self._interface) if self._interface else None
            )
            ears.open(self._stack, protocols)
        except RopewalkError:
            self._stack.close()
            raise
        self._ears = ears

    def _hear(self, now_s: float) -> None:
        ears = self._ears
        if ears is None:
            return
        self._know(ears)
        try:
            ears.poll()
        except RopewalkError:
            self.close()
            self._tried_s = now_s
            raise
        if now_s - self._looked_s >= LOOK_EACH_S:
            self._looked_s = now_s
            self._addresses |= {each.address for card in list_interfaces() for each in card.addresses}
            self._conclude(ears)

    def _know(self, ears: Ears) -> None:
        """Pass over what carries our CID."""
        cid = self._our_cid()
        if cid and cid != self._cid:
            self._cid = cid
            listener = ears.listeners.get(Protocol.E131)
            if listener:
                listener.ignore(CID_OCTET, UUID(cid).bytes)

    def _conclude(self, ears: Ears) -> None:
        now_s = self._clock()
        ears.table.close_window(now_s)
        if not self._cid:
            return
        ours = Ours(self._cid, self._addresses, self._priorities)
        groups: dict[object, list[Conflict]] = {}
        for conflict in conflicts(ours, ears.table.heard([], now_s)):
            groups.setdefault(conflict.who, []).append(conflict)
        self._findings = tuple(_finding(tuple(group)) for group in groups.values())


def _finding(group: tuple[Conflict, ...]) -> Finding:
    first = group[0]
    severity = Severity.REMARK if first.winner is Winner.OURS else Severity.FAILURE
    words = " ".join(sentences(group))
    return Finding(EventKind.OTHER_SOURCE, source_text(first.source), words, severity, HOLD_S)
