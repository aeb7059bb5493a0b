"""A walk with its logbook: what was answered is on the disk before the walk goes on, and is taken up again.

The screen and the command line both use this. It knows no clock: the caller says when.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from streamer.display.model import Display
from streamer.logbook.records import ALL, Entry, Kind, Subject, Verdict, standing_entries
from streamer.prove.checks import Answer, Check, Course, Outcome
from streamer.prove.courses import courses
from streamer.prove.walk import Taken, Walk


class Book(Protocol):
    """What a walk needs of a logbook (streamer.logbook.store)."""

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Write entries and return them numbered, once they are on the disk."""

    def entries(self) -> tuple[Entry, ...]:
        """Return all that is written."""


class NotedWalk:
    """A walk through a display, taken up where the logbook says that it was left.

    Whatever raises LogbookError has changed nothing: the same look is due.
    """

    def __init__(self, display: Display, book: Book) -> None:
        self._book = book
        self._courses = courses(display)
        self.walk = resume(self._courses, book.entries())

    def begin_again(self, at: datetime, subjects: Sequence[Subject] = ()) -> None:
        """Ask about these strings and fixtures again from their first look on; about all of them without."""
        which = subjects or (ALL,)
        self._book.append(*(Entry(at=at, kind=Kind.BEGUN, sort=each.sort, name=each.name) for each in which))
        self.walk = resume(self._courses, self._book.entries())

    def answer(self, key: str, at: datetime) -> Entry:
        """Answer the look that is due, and return what was written; PlanError for a key that it has not."""
        step = self.walk.judge(key)
        return self._write(step, Kind.ANSWER, at)

    def skip(self, at: datetime) -> Entry:
        """Pass over the string or fixture that is due: it is not looked at."""
        return self._write(self.walk.judge_skip(), Kind.SKIPPED, at)

    def undo(self, at: datetime) -> Entry | None:
        """Take back the last step, and return what was written; None where there is nothing to take back."""
        last = self.walk.taken[-1] if self.walk.taken else None
        if last is None or not last.is_of_a_walk:
            return None
        (entry,) = self._book.append(
            Entry(at=at, kind=Kind.UNDONE, sort=last.subject.sort, name=last.subject.name, undoes=last.number)
        )
        self.walk.undo()
        return entry

    def _write(self, step: Taken, kind: Kind, at: datetime) -> Entry:
        course, check = self.walk.course, self.walk.current
        assert course is not None and check is not None  # noqa: S101, PT018  judge has seen to it
        (entry,) = self._book.append(_entry(step, kind, at, course, check))
        self.walk.take(replace(step, number=entry.number))
        return entry


def _entry(step: Taken, kind: Kind, at: datetime, course: Course, check: Check) -> Entry:
    return Entry(
        at=at,
        kind=kind,
        sort=course.subject.sort,
        name=course.subject.name,
        label=course.label,
        look=check.name,
        question=check.question,
        answer=step.answer.text if step.answer else "",
        verdict=step.verdict,
        fingerprint=course.fingerprint,
    )


def resume(all_courses: Sequence[Course], entries: Sequence[Entry]) -> Walk:
    """Return the walk as the entries leave it.

    What was answered when the display file said otherwise, or before it was fixed or begun again, is asked
    again, and so is what was passed over.
    """
    by_subject = {course.subject: course for course in all_courses}
    taken: list[Taken] = []
    for entry in standing_entries(entries):
        course = by_subject.get(entry.subject)
        match entry.kind:
            case Kind.BEGUN if entry.subject == ALL:
                taken.clear()
            case Kind.BEGUN | Kind.FIXED | Kind.SKIPPED:
                taken = [each for each in taken if each.subject != entry.subject]
            case Kind.ANSWER | Kind.FOUND if course and entry.fingerprint == course.fingerprint:
                taken += _taken(entry, course)
            case Kind.ANSWER | Kind.FOUND:
                taken = [each for each in taken if each.subject != entry.subject]
    return Walk(all_courses, taken)


def _taken(entry: Entry, course: Course) -> list[Taken]:
    is_fault = entry.verdict is Verdict.FAULT
    if entry.kind is Kind.FOUND:
        found = Answer("", entry.words, Outcome.FAULT)
        return (
            [Taken(entry.subject, entry.look, found, entry.verdict, entry.number, False)] if is_fault else []
        )
    asked = [answer for check in course.checks if check.name == entry.look for answer in check.answers]
    # An older Ropewalk may have put its answers in other words.
    unknown = Answer("", entry.answer, Outcome.FAULT if is_fault else Outcome.RIGHT)
    answer = next((each for each in asked if each.text == entry.answer), unknown)
    return [Taken(entry.subject, entry.look, answer, entry.verdict, entry.number)]
