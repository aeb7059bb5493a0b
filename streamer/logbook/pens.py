"""What a person writes in the logbook by hand: that something is mended, or a note. Pure."""

from datetime import datetime

from streamer.display.model import Display
from streamer.display.places import plain
from streamer.errors import PlanError, Problem
from streamer.logbook.fingerprint import fingerprints, labels
from streamer.logbook.records import TEXT_LIMIT, Entry, Kind


def penned(display: Display, kind: Kind, name: str, words: str, at: datetime) -> Entry:
    """Return the entry for a string or fixture; PlanError where there is none of that name, or no words.

    Its problems are placed where the command line has them: "--fixed".
    """
    prints = fingerprints(display)
    subject = next((subject for subject in prints if subject.name == name), None)
    if subject is None:
        there = ", ".join(plain(each.name) for each in prints)
        raise PlanError([Problem(f"--{kind}", f"there is no {name!r}", f"There are {there}")])
    # What a terminal's encoding could not say is no reason to lose a note.
    words = " ".join(words.encode("utf-8", "replace").decode().split())
    if not 1 <= len(words) <= TEXT_LIMIT:
        what = f"the note has {len(words)} characters"
        raise PlanError([Problem(f"--{kind}", what, f"Write 1 to {TEXT_LIMIT}")])
    return Entry(
        at=at,
        kind=kind,
        sort=subject.sort,
        name=subject.name,
        label=labels(display)[subject],
        words=words,
        fingerprint=prints[subject],
    )
