"""Packets that the system refused, by the name of the error, as findings."""

from collections import Counter
from collections.abc import Iterator, Mapping

from streamer.net.complaints import OTHERWISE, SENTENCES
from streamer.soak.findings import Finding
from streamer.soak.records import EventKind, Severity
from streamer.soak.watches.sent import NOBODY_LISTENS

REFUSED_HOLD_S = 10.0
"""Linux says EHOSTUNREACH once after three requests for a hardware address, a second each (arp(7),
mcast_solicit), and again after the next three: what is not refused for three times as long is over."""
PASSING = frozenset({"ENOBUFS", "EAGAIN", NOBODY_LISTENS})
"""What need not spoil a night by itself."""


class Refused:
    """Gathers refusals until they are told."""

    def __init__(self) -> None:
        self._recent: Counter[str] = Counter()

    def take(self, errors: Mapping[str, int]) -> None:
        """Take how many packets were refused, by the name of the error."""
        self._recent += Counter(errors)

    def findings(self) -> Iterator[Finding]:
        """Yield each error that has come since this was asked last, with how many packets it cost."""
        recent, self._recent = self._recent, Counter()
        for name, packets in recent.items():
            what, instead = SENTENCES.get(name, ("the system refuses to send", OTHERWISE))
            severity = Severity.REMARK if name in PASSING else Severity.FAILURE
            words = f"{what}. {instead}"
            yield Finding(EventKind.SEND_ERROR, name, words, severity, hold_s=REFUSED_HOLD_S, packets=packets)
