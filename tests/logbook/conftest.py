"""Entries of an invented evening at the boathouse, and a folder of a test's own."""

from collections.abc import Callable
from datetime import datetime, timedelta, timezone
from typing import Any

import pytest

from streamer.display.sample import sample_display
from streamer.logbook.fingerprint import fingerprints, labels
from streamer.logbook.records import Entry, Kind, Sort, Subject

EVENING = datetime(2026, 11, 28, 18, 4, tzinfo=timezone(timedelta(hours=1)))

Write = Callable[..., Entry]


@pytest.fixture(name="write")
def _write() -> Write:
    """Make an entry about a string of the sample display, a minute after the one before."""
    minutes = iter(range(1_000_000))
    display = sample_display()
    prints, names = fingerprints(display), labels(display)

    def write(kind: Kind = Kind.ANSWER, name: str = "boathouse/1", **more: Any) -> Entry:
        subject = Subject(Sort.STRING, name)
        return Entry(
            at=EVENING + timedelta(minutes=next(minutes)),
            kind=kind,
            sort=subject.sort,
            name=name,
            **{"label": names.get(subject, ""), "fingerprint": prints.get(subject, {}), **more},
        )

    return write
