"""The walk: which look comes next, what an answer settles, and how everything stands at the end. Pure.

A string is proven when all its looks are right, at fault with the first that is not, and otherwise not looked
at. Nothing here knows a clock, a file or a light; `noted.py` writes down what happens.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from streamer.display.places import plain
from streamer.errors import PlanError, Problem
from streamer.logbook.records import Subject, Verdict
from streamer.prove.checks import Answer, Check, Course, Outcome


class Proof(StrEnum):
    """How a string or fixture stands in this walk."""

    PROVEN = "proven"
    AT_FAULT = "at fault"
    NOT_LOOKED_AT = "not looked at"


@dataclass(frozen=True, slots=True)
class Taken:
    """One step that was taken: an answer, or passing a string or fixture over."""

    subject: Subject
    look: str
    """The name of the check."""
    answer: Answer | None
    """None: passed over."""
    verdict: Verdict | None
    """What it settles."""
    number: int = 0
    """Its entry in the logbook; 0 while it is in none."""
    is_of_a_walk: bool = True
    """False for a fault that was found otherwise: no step to take back."""


class Walk:
    """A walk through these courses, of which some steps may have been taken already."""

    def __init__(self, courses: Sequence[Course], taken: Iterable[Taken] = ()) -> None:
        self.courses = tuple(courses)
        self._taken = list(taken)

    @property
    def taken(self) -> tuple[Taken, ...]:
        """The steps so far, the last one last; those that were undone are not among them."""
        return tuple(self._taken)

    @property
    def current(self) -> Check | None:
        """The look that is due; None when the walk is over."""
        for course in self.courses:
            if not self._is_settled(course):
                return self._due(course)[0]
        return None

    @property
    def is_over(self) -> bool:
        """Whether no look is left."""
        return self.current is None

    @property
    def position(self) -> tuple[int, int]:
        """The number of the look that is due, from 1, and how many there are; the same two at the end.

        Looks that a fault or passing over has made pointless count as done.
        """
        total = sum(len(course.checks) for course in self.courses)
        left = sum(0 if self._is_settled(course) else len(self._due(course)) for course in self.courses)
        return min(total - left + 1, total), total

    @property
    def course(self) -> Course | None:
        """The string or fixture that is being looked at."""
        return next((course for course in self.courses if not self._is_settled(course)), None)

    def proof(self, subject: Subject) -> Proof:
        """Return how a string or fixture stands."""
        verdict = next((each.verdict for each in self._of(subject) if each.verdict), None)
        if verdict is None:
            return Proof.NOT_LOOKED_AT
        return Proof.PROVEN if verdict is Verdict.PROVEN else Proof.AT_FAULT

    @property
    def proofs(self) -> dict[Subject, Proof]:
        """How everything stands, in the order of the walk."""
        return {course.subject: self.proof(course.subject) for course in self.courses}

    @property
    def remarks(self) -> tuple[Taken, ...]:
        """The answers that said that something else than the string asked about is not right."""
        return tuple(each for each in self._taken if each.answer and each.answer.outcome is Outcome.REMARK)

    def judge(self, key: str) -> Taken:
        """Return what answering the look that is due with this key would be; PlanError for a wrong key.

        Nothing has changed until it is taken: between the two it is written down.
        """
        course, check = self._now()
        answer = check.answer(key)
        if answer is None:
            keys = ", ".join(each.key for each in check.answers)
            raise PlanError([Problem("answer", f"{plain(key)[:20]!r} is none of the answers", f"Use {keys}")])
        verdict = None
        if answer.outcome is Outcome.FAULT:
            verdict = Verdict.FAULT
        elif len(self._due(course)) == 1:
            verdict = Verdict.PROVEN
        return Taken(check.subject, check.name, answer, verdict)

    def judge_skip(self) -> Taken:
        """Return what passing over the string or fixture that is due would be."""
        _, check = self._now()
        return Taken(check.subject, check.name, None, None)

    def take(self, step: Taken) -> None:
        """Take a step that `judge` or `judge_skip` has returned."""
        self._taken.append(step)

    def undo(self) -> Taken | None:
        """Take the last step back and return it, so that its look is due again; None where there is none."""
        return self._taken.pop() if self._taken else None

    def _now(self) -> tuple[Course, Check]:
        if self.course is None or self.current is None:
            raise PlanError([Problem("answer", "no look is left", "The walk is over; begin again, or undo")])
        return self.course, self.current

    def _of(self, subject: Subject) -> list[Taken]:
        return [each for each in self._taken if each.subject == subject]

    def _is_settled(self, course: Course) -> bool:
        return not self._due(course) or any(
            each.verdict or each.answer is None for each in self._of(course.subject)
        )

    def _due(self, course: Course) -> list[Check]:
        seen = {each.look for each in self._of(course.subject)}
        return [check for check in course.checks if check.name not in seen]
