"""What a guided search has found, and what was done about it, as entries. It writes nothing itself."""

from datetime import datetime

from streamer.display.model import Display
from streamer.logbook.fingerprint import fingerprints, labels
from streamer.logbook.records import Entry, Kind, Sort, Subject, Verdict


def found(display: Display, port: str, words: str, at: datetime, *, is_fault: bool) -> Entry:
    """Return the entry for what was found at a port, in words; without a fault it judges nothing."""
    subject = Subject(Sort.STRING, port)
    return Entry(
        at=at,
        kind=Kind.FOUND,
        sort=subject.sort,
        name=subject.name,
        label=labels(display)[subject],
        look="find",
        words=words,
        verdict=Verdict.FAULT if is_fault else None,
        fingerprint=fingerprints(display)[subject],
    )


def corrected(display: Display, port: str, nodes: int, at: datetime) -> Entry:
    """Return the entry for a display file, now `display`, that was told how many nodes hang there."""
    subject = Subject(Sort.STRING, port)
    return Entry(
        at=at,
        kind=Kind.FIXED,
        sort=subject.sort,
        name=subject.name,
        label=labels(display)[subject],
        words=f"the display file says {nodes} nodes now",
        fingerprint=fingerprints(display)[subject],
    )


def taken_back(entry: Entry, at: datetime) -> Entry:
    """Return the entry that says of a written one that it was a slip."""
    return Entry(at=at, kind=Kind.UNDONE, sort=entry.sort, name=entry.name, undoes=entry.number)
