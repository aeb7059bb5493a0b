"""What a watch finds wrong just now, and how that becomes events with a beginning and an end. No clock."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from streamer.soak.records import Event, EventKind, Moment, Sample, Severity

OPEN_MOST = 200
"""Findings followed at once; what comes on top of that is counted only. Bounds memory and the journal."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is so just now, or that has just happened."""

    kind: EventKind
    subject: str
    words: str
    severity: Severity = Severity.FAILURE
    hold_s: float = 0.0
    """It is over when it has not been found for so long; it ended when it was found last."""
    ago_s: float = 0.0
    """How long before it was found it began, where that is known."""
    lasted_s: float | None = None
    """Of something that is over: how long it lasted; None where it lasted until now."""
    packets: int = 0
    """Refused since it was found last; the sum is told at its end."""

    @property
    def key(self) -> tuple[EventKind, str]:
        """At most one of a key is open at a time."""
        return self.kind, self.subject


class Watch(Protocol):
    """Watches one thing for as long as a run lasts. Every call is quick; nothing waits."""

    name: str
    """What it watches, in words."""

    def look(self, now_s: float) -> None:
        """Look again, as often as it thinks fit; OSError and RopewalkError when it cannot."""

    def findings(self) -> Sequence[Finding]:
        """Return what is wrong just now."""

    def news(self) -> Iterable[Finding]:
        """Return what has happened since this was asked last, and has no length."""

    def add_to(self, sample: Sample) -> Sample:
        """Return the sample with what it knows of the time since the last one."""

    def filenos(self) -> Sequence[int]:
        """Return the descriptors on which something may arrive that should be read soon."""

    def close(self) -> None:
        """Let go of everything."""


class Quiet:
    """A watch that finds nothing: watches derive from it and say what differs."""

    name = ""

    def look(self, now_s: float) -> None:
        """Do nothing."""

    def findings(self) -> Sequence[Finding]:
        """Nothing is wrong."""
        return ()

    def news(self) -> Iterable[Finding]:
        """Nothing has happened."""
        return ()

    def add_to(self, sample: Sample) -> Sample:
        """Add nothing."""
        return sample

    def filenos(self) -> Sequence[int]:
        """Nothing arrives."""
        return ()

    def close(self) -> None:
        """Nothing is held."""


@dataclass(slots=True)
class _Open:
    event: Event
    seen_at: Moment
    hold_s: float
    packets: int

    def ended(self, at: Moment) -> Event:
        """Return the event as it is at its end, if that is found at this moment."""
        words = self.event.words
        if self.packets:
            words = f"{self.packets:,} packet{'' if self.packets == 1 else 's'} refused: {words}"
        return replace(self.event, words=words, ended_at=self.seen_at if self.hold_s else at)


class Episodes:
    """Follows findings from look to look: each that lasts is one event, also one that is `still_open`."""

    def __init__(self, still_open: Iterable[Event] = ()) -> None:
        self._open = {
            (event.kind, event.subject): _Open(event, event.began_at, hold_s=0.0, packets=0)
            for event in still_open
        }
        self.passed_over = 0
        """Findings that were too many to follow."""

    @property
    def open(self) -> tuple[Event, ...]:
        """What is wrong just now, the oldest first."""
        return tuple(each.event for each in self._open.values())

    def take(self, found: Iterable[Finding], at: Moment) -> Iterator[Event]:
        """Take what is found at this moment, and yield the events that have begun and that have ended."""
        seen = set()
        for finding in found:
            seen.add(finding.key)
            known = self._open.get(finding.key)
            if known is not None:
                known.seen_at = at
                known.packets += finding.packets
            elif len(self._open) < OPEN_MOST:
                event = begun(finding, at)
                self._open[finding.key] = _Open(event, at, finding.hold_s, finding.packets)
                yield event
            else:
                self.passed_over += 1
        for key in [key for key in self._open if key not in seen]:
            yield from self._end(key, at)

    def _end(self, key: tuple[EventKind, str], at: Moment) -> Iterator[Event]:
        known = self._open[key]
        if known.hold_s and at.run_s - known.seen_at.run_s < known.hold_s:
            return
        del self._open[key]
        yield known.ended(at)

    def end_all(self, at: Moment) -> Iterator[Event]:
        """Yield everything that is open as it ends with the run."""
        opened, self._open = self._open, {}
        yield from (known.ended(at) for known in opened.values())


def begun(finding: Finding, at: Moment) -> Event:
    """Return the event that a finding begins."""
    began_at = Moment(at.unix_s - finding.ago_s, max(0.0, at.run_s - finding.ago_s))
    return Event(finding.kind, finding.subject, finding.words, finding.severity, began_at)


def happened(finding: Finding, at: Moment) -> Event:
    """Return the event of something that has no length, or is over already."""
    event = begun(finding, at)
    if finding.lasted_s is None:
        return replace(event, ended_at=at)
    began = event.began_at
    return replace(event, ended_at=Moment(began.unix_s + finding.lasted_s, began.run_s + finding.lasted_s))
