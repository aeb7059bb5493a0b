"""How often lights may flash is the person's to lower, and theirs to raise only with a word typed in full.

WCAG 2.x success criterion 2.3.1: no more than three flashes in any one-second period.
"""

from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from patterns.registry import all_patterns, get
from streamer.display.model import Display
from streamer.engine.flash_limit import WORD, flash_limit
from streamer.engine.messages import REQUESTS, Calm, Change, Plan, Play, Refused, Setup, Show, State, Status
from streamer.engine.player import pace_limit
from streamer.engine.source import Source
from streamer.errors import PlanError
from tests.engine.bench import CID, Bench, boathouse, play
from tests.engine.flashing import flashes, most_in_a_second
from tests.engine.office import Office

PATTERNS = [pattern.name for pattern in all_patterns()]
TENTH = 25.5
RAISED = {"flashes_per_s": 6, "understood": WORD}
NOT_THE_WORD = ["", "seizure", "Seizures", " seizures", "yes", WORD * 2]


@pytest.fixture(name="office")
def _office(tmp_path: Path) -> Iterator[Office]:
    office = Office(tmp_path)
    yield office
    office.desk.close()


def most_sent(bench: Bench) -> int:
    """Return the most flashes in any second of any slot of what was really sent."""
    shown: dict[object, list[tuple[float, bytes]]] = {}
    for packet in bench.packets:
        shown.setdefault(packet.key, []).append((packet.at_s, packet.slots))
    most = 0
    for packets in shown.values():
        moments = [at_s for at_s, _ in packets]
        slots = np.stack([np.frombuffer(slots, np.uint8) for _, slots in packets])
        lit = slots[:, slots.any(axis=0)]
        for column in np.unique(lit, axis=1).T.tolist():
            most = max(most, most_in_a_second(flashes(zip(moments, column, strict=True), TENTH)))
    return most


moves = st.one_of(
    st.tuples(st.just("step"), st.integers(-500, 500)),
    st.tuples(st.just("level"), st.integers(0, 100)),
    st.tuples(st.just("pattern"), st.sampled_from(PATTERNS)),
    st.tuples(st.just("dark"), st.integers(0, 1)),
    st.tuples(st.just("begin"), st.sampled_from(PATTERNS)),
    st.tuples(st.just("wait"), st.integers(1, 12)),
    st.tuples(st.just("calm"), st.integers(1, 3)),
)


def displays(flashes_per_s: int) -> st.SearchStrategy[Display]:
    """Return displays of one to three strings that allow so many flashes."""
    return st.lists(st.integers(1, 6), min_size=1, max_size=3, unique=True).map(
        lambda universes: boathouse(*universes).model_copy(update={"flashes_per_s": flashes_per_s})
    )


@pytest.mark.parametrize(
    ("limit", "in_file"),
    [
        (1, False),
        (2, True),
        (3, False),
        *(pytest.param(*each, marks=pytest.mark.slow) for each in ((1, True), (2, False), (3, True))),
    ],
)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_no_light_flashes_more_often_than_the_person_allows(limit: int, in_file: bool, data: st.DataObject):  # noqa: FBT001
    """Any pattern and any hand, on any display, in what is really sent; said by the file or for the run."""
    bench = Bench(source=Source(CID))
    lake = data.draw(displays(limit if in_file else 3))
    setup = None if in_file else {"flashes_per_s": limit}
    run = bench.start(play(data.draw(st.sampled_from(PATTERNS)), lake, setup=setup, pace=44))
    for what, value in data.draw(st.lists(moves, max_size=20)):
        bench.pass_time(0.04)
        match what, value:
            case "step", int(by):
                run.player.step_by(by)
            case "level", int(percent):
                run.change(run.show.model_copy(update={"level_percent": percent}), bench.now_s)
            case "pattern", str(name):
                run.change(run.show.model_copy(update={"pattern": name, "params": {}}), bench.now_s)
            case "dark", int(on):
                run.show_dark(bench.now_s, on=bool(on))
            case "calm", int(most):
                run.calm(min(most, limit))
            case "begin", str(name):
                run = bench.start(play(name, lake, setup=setup, pace=44))
            case _, int(frames):
                bench.pass_time(frames / 40)
    bench.pass_time(0.5)
    assert most_sent(bench) <= limit


def flash_by_hand(setup: dict[str, object]) -> Bench:
    """Go dark and back six times in a second, by hand."""
    bench = Bench(source=Source(CID))
    run = bench.start(play(setup=setup))
    for turn in range(12):
        run.show_dark(bench.now_s, on=turn % 2 == 1)
        bench.pass_time(1 / 12)
    return bench


def test_what_is_asked_for_is_what_is_had():
    """Six flashes by hand in a second: one, two or three go through, with the word all six."""
    assert [most_sent(flash_by_hand({"flashes_per_s": limit})) for limit in (1, 2, 3)] == [1, 2, 3]
    assert most_sent(flash_by_hand({})) == 3
    assert most_sent(flash_by_hand(RAISED)) == 6


@pytest.mark.parametrize("limit", [1, 2, 3])
@pytest.mark.parametrize("is_anew", [False, True])
def test_lights_beside_the_plan_are_remembered_by_patterns_that_have_none(limit: int, is_anew: bool):  # noqa: FBT001
    """Probe lights universe 2 too, bits does not: going to and fro between them flashes it no more often."""
    bench = Bench(source=Source(CID))
    setup = {"flashes_per_s": limit}
    run = bench.start(play("probe", boathouse(1), setup=setup))
    for turn in range(12):
        bench.pass_time(0.05)
        name = "probe" if turn % 2 else "bits"
        if is_anew:
            run = bench.start(play(name, boathouse(1), setup=setup))
        else:
            run.change(run.show.model_copy(update={"pattern": name}), bench.now_s)
    bench.pass_time(0.5)
    assert 2 in {packet.key.universe for packet in bench.packets}
    assert most_sent(bench) <= limit


@pytest.mark.slow
@settings(max_examples=50, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 3), st.booleans(), st.integers(1, 20)), min_size=2, max_size=8))
def test_a_limit_that_is_turned_down_and_up_again_hides_no_flash(turns: list[tuple[int, bool, int]]):
    """Between 1 and 3 at will, in one run or by another: never a fourth flash in any second."""
    bench = Bench(source=Source(CID))
    run = bench.start(play())
    dark = False
    for most, is_anew, frames in turns:
        if is_anew:
            run = bench.start(play(setup={"flashes_per_s": most}))
        else:
            run.calm(most)
        for _ in range(frames):
            dark = not dark
            run.show_dark(bench.now_s, on=dark)
            bench.pass_time(0.026)
    assert most_sent(bench) <= 3


def test_a_run_is_calmed_while_it_goes_on(office: Office):
    """From the next frame on, and its plan says so to whoever comes; the pattern goes on at its step."""
    client = office.come()
    office.ask(client, play("walk", setup=RAISED))
    office.pass_time(2)
    step = client.last(Status).step
    office.ask(client, Calm(flashes_per_s=1))
    status = client.last(Status)
    assert (status.flashes_per_s, status.state, status.plan) == (1, State.RUNNING, 1)
    assert status.step >= step > 0
    assert office.come("phone", control=False).last(Plan).setup.flashes_per_s == 1


def test_no_calm_raises_what_the_display_says(office: Office):
    """Its file asks for one flash in a second: two are not to be had."""
    client = office.come()
    office.ask(client, play(display=boathouse().model_copy(update={"flashes_per_s": 1})))
    office.ask(client, Calm(flashes_per_s=2))
    assert client.last(Status).flashes_per_s == 1


@pytest.mark.parametrize("most", [0, 4, 22])
def test_a_calm_is_for_one_to_three(most: int):
    """WCAG 2.3.1: what raises it is typed with its word, and comes with a new run."""
    with pytest.raises(ValidationError, match="flashes_per_s"):
        REQUESTS.validate_python({"kind": "calm", "flashes_per_s": most})


@pytest.mark.parametrize("word", NOT_THE_WORD)
def test_the_engine_refuses_more_than_three_without_the_word_whoever_asks(office: Office, word: str):
    """A client of the local socket too; nothing is sent, and it is told why and which word."""
    client = office.come()
    office.ask(client, play(setup={"flashes_per_s": 4, "understood": word}))
    refused = client.last(Refused)
    for said in ("WCAG", "2.3.1", "photosensitive", "more than 3 flashes", f"the word {WORD}"):
        assert said in refused.reason
    assert client.last(Status).state is State.IDLE
    office.pass_time(0.2)
    assert not office.bench.packets


def test_a_run_in_progress_goes_on_when_more_is_refused(office: Office):
    """And keeps its limit."""
    client = office.come()
    office.ask(client, play(setup={"flashes_per_s": 2}))
    office.ask(client, play(setup={"flashes_per_s": 9}))
    assert client.count(Refused) == 1
    status = client.last(Status)
    assert (status.state, status.flashes_per_s) == (State.RUNNING, 2)


def test_the_word_is_for_one_run_and_told_to_nobody(office: Office):
    """Whoever attaches has a setup of at most three: a screen that plays it again cannot raise it."""
    client = office.come()
    office.ask(client, play(setup=RAISED))
    assert client.last(Status).flashes_per_s == 6
    later = office.come("screen", control=False)
    setup = later.last(Plan).setup
    assert (setup.flashes_per_s, setup.understood) == (3, "")
    office.ask(client, Play(setup=setup, show=Show(pattern="level")))
    assert client.last(Status).flashes_per_s == 3


def test_no_change_of_what_is_shown_carries_a_limit():
    """A `Change` has no place for it."""
    with pytest.raises(ValidationError, match="flashes_per_s"):
        Change.model_validate({"show": {"pattern": "level", "flashes_per_s": 9}})


@pytest.mark.parametrize("number", [0, 4, 9])
def test_no_display_may_ask_for_more_than_three_nor_for_none(number: int):
    """Refused at the door of the socket, with or without the word."""
    asked = play(setup={"understood": WORD}).model_dump(mode="json")
    asked["setup"]["display"]["flashes_per_s"] = number
    with pytest.raises(ValidationError, match="flashes_per_s"):
        REQUESTS.validate_python(asked)


@pytest.mark.parametrize(
    ("in_file", "asked", "word", "limit"),
    [
        (3, None, "", 3),
        (1, None, "", 1),
        (1, None, WORD, 1),
        (1, 3, "", 1),
        (3, 1, "", 1),
        (2, 1, "", 1),
        (1, 3, WORD, 3),
        (3, 22, WORD, 22),
    ],
)
def test_the_lower_limit_holds_unless_the_word_is_typed(in_file: int, asked: int, word: str, limit: int):
    """Of the file's and the command line's."""
    lake = boathouse().model_copy(update={"flashes_per_s": in_file})
    assert flash_limit(Setup(display=lake, flashes_per_s=asked, understood=word)) == limit


@pytest.mark.parametrize("asked", range(4, 23))
def test_every_number_above_three_needs_the_word(asked: int):
    """The sentence has the number that was asked for."""
    with pytest.raises(PlanError, match=f"{asked} are asked for"):
        flash_limit(Setup(display=boathouse(), flashes_per_s=asked))


@pytest.mark.parametrize(("limit", "pace"), [(1, 1.0), (2, 2.0), (3, 3.0), (6, 6.0), (22, 22.0)])
def test_patterns_that_flash_keep_pace_with_the_limit(limit: int, pace: float):
    """Slowed down rather than held: a pace limit of three steps a second is made for three flashes."""
    assert pace_limit(get("count"), limit) == pytest.approx(pace)


def test_no_pattern_is_faster_than_the_frames_can_be():
    """44 a second (E1.31-2018 6.6.1), whatever is allowed."""
    rates: Sequence[float] = [pace_limit(get(name), 22) for name in PATTERNS]
    assert max(rates) == 44.0
