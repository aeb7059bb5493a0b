"""Every look of a walk through a display: port after port, then fixture after fixture."""

from streamer.display.layout import layout_of
from streamer.display.model import Display
from streamer.logbook.fingerprint import fingerprints, labels
from streamer.logbook.records import Sort, Subject
from streamer.prove.checks import Course
from streamer.prove.fixtures import fixture_checks
from streamer.prove.strings import Stand, string_checks


def courses(display: Display) -> tuple[Course, ...]:
    """Return all strings and fixtures of a checked display, with their looks, in file order.

    A fixture without a light channel is left out: there is nothing to look at.
    """
    layout = layout_of(display)
    prints, names = fingerprints(display), labels(display)
    found = []
    for string, port in enumerate(layout.string_names):
        subject = Subject(Sort.STRING, port)
        checks = string_checks(Stand(layout, string, names[subject]))
        found.append(Course(subject, names[subject], prints[subject], checks))
    for fixture, name in enumerate(layout.fixture_names):
        subject = Subject(Sort.FIXTURE, name)
        if checks := tuple(fixture_checks(layout, fixture)):
            found.append(Course(subject, names[subject], prints[subject], checks))
    return tuple(found)
