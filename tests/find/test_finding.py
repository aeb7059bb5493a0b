"""A search as a screen uses it: looks, answers, undo, why, the verdict."""

from typing import Any

import pytest

from streamer.display.model import Display
from streamer.errors import PlanError
from streamer.find.answers import EYES, NO, Answer
from streamer.find.asking import PIECES, question_of, shown_words
from streamer.find.finding import LOOKS_MAX, Bench, Finding
from streamer.find.kinds import TRADE, Kind
from streamer.find.look import Look
from streamer.find.questions import Asks
from streamer.find.suspects import terms_of
from streamer.find.terms import Terms
from streamer.find.verdict import Verdict, certainty_text, verdict_of
from streamer.find.why import why
from streamer.yard.faults import Break, Fault, Flicker, StuckNode
from tests.find.closed_loop import Lawn, search
from tests.find.conftest import bench_of, one_string

MOST_CHOICES = 10
LONGEST_QUESTION = 250


def verdict_on(display: Display, *faults: Fault, port: str = "jetty/1") -> Verdict:
    """Return the verdict after a search by the robot."""
    bench = bench_of(display, port)
    return verdict_of(search(Lawn(display, bench, {port: list(faults)})))


def test_the_verdict_says_where_to_go():
    """57 nodes in two segments, 100 mm apart: the joint is 5.7 m from the fed end (computed)."""
    verdict = verdict_on(one_string(97, 28, 29, 40), Break(after=57))
    assert verdict.sentence == (
        "Break between node 57 and 58: the joint between segment 2 and 3, "
        "5.7 m along the string from its controller."
    )
    assert verdict.is_certain
    assert "Local codes come first" in verdict.checks[0]
    assert verdict.checks[1:] == TRADE[Kind.BREAK].checks


def test_a_string_fed_at_its_end_is_measured_from_there():
    """Node 20 of 50 is the last with data: 31 nodes of 100 mm from the fed end (computed)."""
    sentence = verdict_on(one_string(50, reversed=True), Break(after=20)).sentence
    assert sentence.startswith("Break between node 20 and 19: in segment 1, 3.1 m along")


def test_flicker_is_placed_in_the_middle_of_its_node():
    """Node 11 sits half a spacing after ten: 1.05 m, told as 1.1 or 1.0 (computed)."""
    assert verdict_on(one_string(50), Flicker(node=12)).sentence == (
        "It flickers from node 12 on: in segment 1, 1.1 m along the string from its controller."
    )


def test_no_distance_is_made_up_where_the_plan_gives_no_spacing(sample: Display):
    """A string without spacing gets a place, and no metres."""
    port = sample.ports[0].model_copy(
        update={"segments": tuple(each.model_copy(update={"spacing_mm": None}) for each in
                                  sample.ports[0].segments)}
    )  # fmt: skip
    controller = sample.controllers[0].model_copy(update={"ports": (port,)})
    display = sample.model_copy(update={"controllers": (controller,)})
    sentence = verdict_on(display, Break(after=41), port="boathouse/1").sentence
    assert sentence == "Break between node 41 and 42: the joint between segment 1 and 2."


def test_undo_takes_back_an_answer_and_shows_its_look_again():
    """What is known, and what is asked, are as they were before the answer."""
    finding = Finding(bench_of(one_string(50), "jetty/1"))
    first, shares = finding.look, finding.shares
    finding.answer(Answer.GREEN)
    second = finding.look
    finding.answer(Answer.NONE)
    assert finding.undo()
    assert finding.look is second
    assert finding.undo()
    assert finding.look is first
    assert (finding.shares == shares).all()
    assert not finding.undo()


def test_that_one_cannot_tell_says_nothing_and_is_not_asked_again():
    """The shares stay, and the same picture does not come back with the same question."""
    finding = Finding(bench_of(one_string(50), "jetty/1"))
    names, shares = set(), finding.shares
    while finding.look:
        assert finding.look.name not in names
        names.add(finding.look.name)
        finding.answer(Answer.CANT_TELL)
    assert (finding.shares == shares).all()
    assert len(names) <= LOOKS_MAX
    assert not verdict_of(finding).is_certain


def test_answers_at_random_end_in_a_verdict_that_admits_its_doubt():
    """Whoever answers nonsense gets to an end, and is told how sure it is."""
    finding = Finding(bench_of(one_string(50), "jetty/1"))
    while finding.look:
        finding.answer(finding.choices[len(finding.steps) % len(finding.choices)].answer)
    assert len(finding.steps) <= LOOKS_MAX
    assert 0 < verdict_of(finding).certainty <= 1


def test_an_answer_that_is_none_is_refused_and_changes_nothing():
    """The refusal says which there are."""
    finding = Finding(bench_of(one_string(50), "jetty/1"))
    look = finding.look
    with pytest.raises(PlanError, match=r"none of the answers\. Give one of 1, 2"):
        finding.answer(42)
    assert finding.look is look
    while finding.look:
        finding.answer(Answer.CANT_TELL)
    with pytest.raises(PlanError, match="the search is over"):
        finding.answer(1)


@pytest.mark.parametrize("terms", [{"error_rate": 0.5}, {"certainty": 1.0}, {"certainty": 0.2}])
def test_terms_that_cannot_be_are_refused(terms: dict[str, Any]):
    """With the range that can be."""
    with pytest.raises(PlanError, match="Use 0"):
        Terms(**terms)


def test_a_port_that_is_not_there_is_told_with_those_that_are(sample: Display):
    """Not as a traceback."""
    with pytest.raises(PlanError, match=r"no port 'boathouse/9'\. Choose one of boathouse/1, "):
        bench_of(sample, "boathouse/9")


def test_why_tells_each_answer_and_what_the_look_would_tell():
    """One line for each answer, what was left then; then what each answer now would mean."""
    finding = Finding(bench_of(one_string(50), "jetty/1"))
    finding.answer(Answer.GREEN)
    lines = why(finding)
    assert lines[0].startswith("Before any answer: break ")
    assert lines[1].startswith("1. What colour is the last lit node, from node 1 on? green. Then: break")
    assert "bits" in lines[2]
    assert any("most likely: " in line for line in lines[3:])


def test_progress_goes_from_nothing_to_all():
    """0 before the first answer, 1 at the verdict."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1")
    assert Finding(bench).progress == pytest.approx(0, abs=1e-6)
    assert search(Lawn(display, bench, {"jetty/1": [Break(after=9)]})).progress == 1


@pytest.mark.parametrize("share", [0.5, 0.994, 0.9999999])
def test_a_verdict_is_never_told_as_a_hundred_percent(share: float):
    """Any answer may be wrong."""
    assert "100" not in certainty_text(share)


@pytest.mark.parametrize("eyes", list(EYES))
def test_every_question_is_short_and_has_a_handful_of_answers(sample: Display, eyes: str):
    """No more than the ten number keys; nobody counts more than seven things; words that can be printed."""
    bench = bench_of(sample, "boathouse/4", eyes)
    pictures = bench.chooser.pictures(bench.table.columns, bench.table.prior)
    for picture in pictures:
        for asks in set(Asks) - {Asks.MATCH}:
            finding = Finding(bench)
            finding.look = Look(picture, asks)
            question = question_of(finding)
            assert question.isprintable()
            assert 0 < len(question) <= LONGEST_QUESTION
            assert len(finding.choices) <= MOST_CHOICES
            assert all(choice.words for choice in finding.choices)
            assert shown_words(finding).count(",") <= PIECES


def test_the_confirming_look_says_what_should_be_seen():
    """Seven pieces at the most, and a yes or no."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1")
    lawn, finding = Lawn(display, bench, {"jetty/1": [Break(after=30)]}), Finding(bench)
    while finding.look and not finding.look.is_confirmation:
        lawn.put_up(finding.look)
        finding.answer(lawn.answer(finding.look))
    question = question_of(finding)
    assert question.startswith("From node 1 on, do you see exactly this: ")
    assert question.endswith(", then nothing?")
    assert "one " in question
    finding.answer(NO)
    assert finding.look is not None, "a no is not the end of it"


def test_without_colours_nothing_asks_for_one(sample: Display):
    """Lit or unlit is all that is asked."""
    bench = bench_of(sample, "boathouse/1", "lit")
    finding = Finding(bench)
    for _ in range(6):
        if finding.look is None:
            break
        assert "colour" not in question_of(finding)
        finding.answer(finding.choices[0].answer)


def test_without_colours_a_healthy_string_is_certain_and_what_was_not_seen_is_said():
    """A colour order is not thought of where nobody looks at colours."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1", "lit")
    verdict = verdict_of(search(Lawn(display, bench, {})))
    assert verdict.is_healthy
    assert verdict.is_certain
    assert "Colours and their order were not looked at" in verdict.checks[-1]


def test_all_shares_of_the_trade_are_a_hundred_percent():
    """The table of what is met is readable: it adds up."""
    assert sum(each.percent for each in TRADE.values()) == pytest.approx(100)


@pytest.mark.parametrize(("eyes", "others"), [("six", 0), ("three", 1)])
def test_what_eyes_never_tell_apart_is_one_possibility(eyes: str, others: int):
    """Stuck at red: to some eyes stuck at green is the same whatever is sent; it is certain all the same."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1", eyes)
    verdict = verdict_of(search(Lawn(display, bench, {"jetty/1": [StuckNode(node=17, colour="red")]})))
    assert verdict.is_certain
    assert "node 17 always shows" in verdict.sentence.lower()
    same = [each for each in verdict.remains if each.looks_the_same]
    assert len(same) == others
    assert all("node 17 always shows" in each.sentence.lower() for each in same)


@pytest.mark.parametrize(
    ("suspect", "eyes", "words"),
    [
        ("anything", "six", ": 50 nodes, colour order, direction and address."),
        ("anything", "lit", ": 50 nodes, direction and address."),
        ("count", "six", ": 50 nodes."),
        ("break", "six", ": no break."),
        ("address", "six", ": address."),
        ("light", "six", ": every node."),
    ],
)
def test_a_healthy_verdict_vouches_for_nothing_that_was_not_thought_of(suspect: str, eyes: str, words: str):
    """Whoever only counts has not looked at the address."""
    display = one_string(50)
    bench = Bench(display, "jetty/1", terms_of(suspect, eyes))
    verdict = verdict_of(search(Lawn(display, bench, {})))
    assert verdict.is_healthy
    assert verdict.sentence.endswith(words)
