"""What a guided search has found, as an entry of the logbook. It writes nothing itself."""

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
