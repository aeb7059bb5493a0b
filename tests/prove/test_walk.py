"""The walk: which look comes next, what an answer settles, undoing, passing over, and taking it up again."""

from datetime import datetime

import pytest

from streamer.display.model import Display
from streamer.display.sample import sample_display
from streamer.errors import LogbookError, PlanError
from streamer.logbook.records import Entry, Kind, Sort, Subject, Verdict
from streamer.logbook.standing import State, standings
from streamer.prove.checks import Outcome
from streamer.prove.courses import courses
from streamer.prove.noted import NotedWalk
from streamer.prove.walk import Proof, Walk
from tests.prove.conftest import Pages, answer_all

GABLE = Subject(Sort.STRING, "boathouse/1")
WALLS = Subject(Sort.STRING, "boathouse/2")
DISPLAY = sample_display()


def fault_key(noted: NotedWalk) -> str:
    """Return the key of an answer that says that the look is not right."""
    check = noted.walk.current
    assert check
    return next(answer.key for answer in check.answers if answer.outcome is Outcome.FAULT)


def due(noted: NotedWalk) -> tuple[str, str]:
    """Return whose look is due, and which."""
    assert noted.walk.current
    return noted.walk.current.subject.name, noted.walk.current.name


def test_a_string_is_asked_which_how_many_order_direction_address_and_level():
    """In this order, each with keys from 1 and the right answer first."""
    gable = courses(DISPLAY)[0]
    assert [check.name for check in gable.checks] == [
        "which",
        "how many",
        "order",
        "direction",
        "address, universe 11",
        "level",
    ]
    for course in courses(DISPLAY):
        for check in course.checks:
            assert [answer.key for answer in check.answers] == [
                str(number) for number in range(1, len(check.answers) + 1)
            ]
            assert check.answers[0].outcome is Outcome.RIGHT
            assert check.question.endswith(("?", "."))


def test_nobody_is_asked_to_count_more_than_seven_things():
    """A question names a node by its number, or so many nodes: never more than seven of them."""
    for course in courses(DISPLAY):
        for check in course.checks:
            assert "count" not in check.question.lower()
            assert len(check.answers) <= 7


def test_looks_of_one_display_are_known_by_their_names():
    """A name is unique for its string or fixture, or the logbook could not tell them apart."""
    for course in courses(DISPLAY):
        names = [check.name for check in course.checks]
        assert len(set(names)) == len(names)


def test_right_answers_to_every_look_prove_a_string(pages: Pages, at: datetime):
    """And not a moment sooner."""
    noted = NotedWalk(DISPLAY, pages)
    for _ in range(5):
        assert noted.answer("1", at).verdict is None
        assert noted.walk.proof(GABLE) is Proof.NOT_LOOKED_AT
    assert noted.answer("1", at).verdict is Verdict.PROVEN
    assert noted.walk.proof(GABLE) is Proof.PROVEN
    assert due(noted) == ("boathouse/2", "which")


def test_a_wrong_look_puts_the_string_at_fault_and_goes_on_with_the_next(pages: Pages, at: datetime):
    """There is no use in looking further before it is mended."""
    noted = NotedWalk(DISPLAY, pages)
    noted.answer("1", at)
    assert noted.answer(fault_key(noted), at).verdict is Verdict.FAULT
    assert noted.walk.proof(GABLE) is Proof.AT_FAULT
    assert due(noted) == ("boathouse/2", "which")
    assert noted.walk.position == (7, 59)


def test_what_is_passed_over_is_not_looked_at_and_asked_on_another_day(pages: Pages, at: datetime):
    """Not again on the same walk."""
    noted = NotedWalk(DISPLAY, pages)
    noted.answer("1", at)
    noted.skip(at)
    assert due(noted) == ("boathouse/2", "which")
    answer_all(noted, at)
    assert noted.walk.is_over
    assert noted.walk.proof(GABLE) is Proof.NOT_LOOKED_AT
    assert due(NotedWalk(DISPLAY, pages)) == ("boathouse/1", "which")


@pytest.mark.parametrize("key", ["0", "9", "", "yes", "\x1b"])
def test_a_key_that_is_no_answer_changes_nothing(key: str, pages: Pages, at: datetime):
    """It is refused, with the keys that there are."""
    noted = NotedWalk(DISPLAY, pages)
    with pytest.raises(PlanError, match="Use 1, 2, 3, 4"):
        noted.answer(key, at)
    assert pages.entries() == ()
    assert due(noted) == ("boathouse/1", "which")


def test_every_step_can_be_undone_back_to_the_first(pages: Pages, at: datetime):
    """Answers, verdicts and passing over; what was undone counts for nothing in the logbook either."""
    noted = NotedWalk(DISPLAY, pages)
    answer_all(noted, at, most=8)
    noted.skip(at)
    noted.answer("1", at)
    noted.answer(fault_key(noted), at)
    seen = []
    while noted.undo(at):
        seen.append(due(noted))
    assert len(seen) == 11
    assert due(noted) == ("boathouse/1", "which")
    assert {each.state for each in standings(DISPLAY, pages.entries()).all} == {State.UNSEEN}
    assert noted.undo(at) is None


def test_a_walk_is_taken_up_where_it_was_left_and_can_be_undone_from_there(pages: Pages, at: datetime):
    """On another day, in another process: only the logbook is left."""
    answer_all(NotedWalk(DISPLAY, pages), at, most=9)
    again = NotedWalk(DISPLAY, pages)
    assert due(again) == ("boathouse/2", "direction")
    assert again.walk.position == (10, 59)
    again.undo(at)
    assert due(NotedWalk(DISPLAY, pages)) == ("boathouse/2", "order")


def test_a_finished_walk_stays_finished(pages: Pages, at: datetime):
    """Nothing is asked twice without being asked for."""
    assert answer_all(NotedWalk(DISPLAY, pages), at) == 59
    again = NotedWalk(DISPLAY, pages)
    assert again.walk.is_over
    assert set(again.walk.proofs.values()) == {Proof.PROVEN}
    with pytest.raises(PlanError, match="no look is left"):
        again.answer("1", at)


def test_what_was_mended_is_asked_again_from_its_first_look(pages: Pages, at: datetime):
    """Then it is proven again, and the logbook says so."""
    noted = NotedWalk(DISPLAY, pages)
    noted.answer("1", at)
    noted.answer(fault_key(noted), at)
    answer_all(noted, at)
    gable = noted._courses[0]
    pages.append(Entry(at=at, kind=Kind.FIXED, sort=Sort.STRING, name="boathouse/1", words="taped"))
    again = NotedWalk(DISPLAY, pages)
    assert due(again) == ("boathouse/1", "which")
    assert answer_all(again, at) == len(gable.checks)
    assert standings(DISPLAY, pages.entries()).all[0].state is State.PROVEN


def test_everything_or_one_string_can_be_begun_again(pages: Pages, at: datetime):
    """The proof of before stands in the logbook until a new answer settles it."""
    noted = NotedWalk(DISPLAY, pages)
    answer_all(noted, at)
    noted.begin_again(at, [WALLS])
    assert due(noted) == ("boathouse/2", "which")
    assert answer_all(noted, at) == 6
    noted.begin_again(at)
    assert answer_all(noted, at, most=3) == 3
    assert due(NotedWalk(DISPLAY, pages)) == ("boathouse/1", "direction")
    assert standings(DISPLAY, pages.entries()).count(State.PROVEN) == 10


def test_a_changed_display_file_has_its_changed_strings_asked_again(pages: Pages, at: datetime):
    """And no others."""
    answer_all(NotedWalk(DISPLAY, pages), at)
    boathouse = DISPLAY.controllers[0]
    ports = (*boathouse.ports[:4], boathouse.ports[4].model_copy(update={"skip": 1}))
    changed = Display(
        name="Boathouse",
        controllers=(boathouse.model_copy(update={"ports": ports}), *DISPLAY.controllers[1:]),
    )
    noted = NotedWalk(changed, pages)
    assert due(noted) == ("boathouse/5", "which")
    assert answer_all(noted, at) == 6


def test_a_fault_that_was_found_otherwise_is_at_fault_in_the_walk_and_no_step_to_undo(
    pages: Pages, at: datetime
):
    """Fault finding writes in the same logbook."""
    print_ = courses(DISPLAY)[0].fingerprint
    found = Entry(
        at=at,
        kind=Kind.FOUND,
        sort=Sort.STRING,
        name="boathouse/1",
        verdict=Verdict.FAULT,
        words="break after node 57",
        fingerprint=print_,
    )
    pages.append(found)
    noted = NotedWalk(DISPLAY, pages)
    assert noted.walk.proof(GABLE) is Proof.AT_FAULT
    assert noted.undo(at) is None
    assert due(noted) == ("boathouse/2", "which")


class FullPages(Pages):
    """A logbook on a full disk."""

    def append(self, *entries: Entry) -> tuple[Entry, ...]:
        """Refuse."""
        raise LogbookError("the disk is full", f"{len(entries)} entries", "Make room")


def test_an_answer_that_cannot_be_written_down_is_not_taken(at: datetime):
    """The same look is due again: nothing is acknowledged that is not on the disk."""
    noted = NotedWalk(DISPLAY, FullPages())
    with pytest.raises(LogbookError):
        noted.answer("1", at)
    with pytest.raises(LogbookError):
        noted.skip(at)
    assert due(noted) == ("boathouse/1", "which")
    assert noted.walk.taken == ()


def test_a_display_without_lights_is_over_before_it_begins():
    """There is nothing to ask."""
    walk = Walk(courses(Display(name="Empty", controllers=())))
    assert walk.is_over
    assert walk.position == (0, 0)


def test_moving_and_strobing_channels_are_never_raised():
    """A walk is done with people and ladders near: only light channels are asked about."""
    checks = [check for course in courses(DISPLAY) for check in course.checks]
    of_fixtures = [check for check in checks if check.subject.sort is Sort.FIXTURE]
    assert len(of_fixtures) == 8
    assert not [check for check in of_fixtures if "strobe" in check.name]
    assert all(set(check.look.params) == set() for check in of_fixtures)
