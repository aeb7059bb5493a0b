"""Choosing what to search, going through all ports, and what may be written to the display file."""

from collections.abc import Callable
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.display.model import Display
from streamer.engine.messages import Play
from streamer.errors import PlanError
from streamer.find.kinds import Kind as Fault
from streamer.find.suspects import terms_of
from streamer.logbook.records import Kind
from streamer.logbook.store import logbook_path, read_logbook
from tests.tui.sizes import SIZES
from tests.tui.stage import PIER, Open
from tests.tui.test_asking import answer_as, until_asked, write_file
from tui.finding import CORRECT, LEAVE, FindSession
from tui.rounds import NEXT, RoundSession
from tui.screens.wrong import Wrong

TWO = (
    PIER.replace("nodes = 50", "nodes = 12  # as bought")
    + """
[[controllers.ports]]
number = 2
universe = 2
nodes = 12
"""
)


@pytest.mark.parametrize("size", SIZES)
async def test_what_is_to_be_searched_is_asked_first(opened: Open, size: tuple[int, int]):
    """The port looked at, the eyes, and what one has in mind."""
    async with opened(size=size) as stage:
        await stage.pilot.press("w")
        await stage.until(lambda: isinstance(stage.app.screen, Wrong))
        await stage.pilot.pause()
        stage.check(f"wrong-{size[0]}x{size[1]}")


async def test_eyes_are_chosen_once_and_remembered(opened: Open):
    """Colours that all tell apart: the answers are yellow, blue and white; the next search asks so again."""
    async with opened() as stage:
        await stage.pilot.press("w")
        await stage.until(lambda: isinstance(stage.app.screen, Wrong))
        await stage.pilot.press("down", "right", "enter")
        await until_asked(stage, "Look 1")
        assert "yellow (or red, or green)" in stage.text
        assert "magenta" not in stage.text
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        await stage.pilot.press("w")
        await stage.until(lambda: "three" in stage.text)


async def test_a_letter_jumps_to_the_choice_that_begins_with_it(opened: Open):
    """And one that begins none changes nothing."""
    async with opened() as stage:
        await stage.pilot.press("w")
        await stage.until(lambda: isinstance(stage.app.screen, Wrong))
        await stage.pilot.press("down", "x", "l")
        await stage.until(lambda: "no colours at all" in stage.text)


@pytest.mark.slow
async def test_all_ports_are_gone_through_each_on_its_own_slots(opened: Open, tmp_path: Path):
    """Each port's looks are a run on that port's canvas; s leaves one out; in the end comes the summary."""
    path = tmp_path / "pier.toml"
    async with opened() as stage:
        await write_file(stage, tmp_path)
        path.write_text(TWO)
        await stage.pilot.press("d", "enter")
        await stage.until(lambda: stage.setup.display == load(path))
        await stage.pilot.press("w", "left", "enter")
        await until_asked(stage, "Find 1/2: pier/1")
        await stage.pilot.press("s")
        await until_asked(stage, "Find 2/2: pier/2")
        plays = [each.setup.display for each in stage.engine.asked if isinstance(each, Play)]
        assert len(plays) == 2
        assert plays[0] != plays[1]
        await answer_as(stage, lambda row: row.kind is Fault.BREAK and row.reach == 7)
        await until_asked(stage, "what came of all ports")
        await stage.pilot.press("n")
        await stage.until(lambda: "2 ports: 1 not as planned, 1 not looked at." in stage.text)
        (entry,) = read_logbook(logbook_path(path))
        assert (entry.name, entry.kind) == ("pier/2", Kind.FOUND)
        await stage.pilot.press("backspace")
        await stage.until(lambda: "Find 2/2" in stage.text)


def finished(session: FindSession, kind: Fault, hung: int) -> None:
    """Answer as somebody would who sees so many nodes."""
    finding = session._finding
    rows = finding.bench.table.rows
    truth = next(index for index, row in enumerate(rows) if row.kind is kind and row.hung == hung)
    while finding.look:
        seen = finding.bench.chooser.predicted(finding.look, finding.bench.table.columns)
        session.answer(str(int(seen[truth])))


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    path = tmp_path / "pier.toml"
    path.write_text(TWO)
    return path


def search(path: Path, told: list[Display]) -> FindSession:
    """Return a search for the number of nodes of the first port."""
    from streamer.engine.messages import Setup

    setup = Setup(display=load(path))
    return FindSession(setup, "pier/1", 30, path, terms_of("count", "six"), told.append)


def test_a_counted_number_is_written_when_asked_for(path: Path):
    """One line of the file changes, its comment stays; the logbook says found, then fixed."""
    told: list[Display] = []
    session = search(path, told)
    finished(session, Fault.MORE, 17)
    assert [key for key, _ in session.page.answers] == [LEAVE, CORRECT]
    assert path.read_text() == TWO
    session.answer(CORRECT)
    assert path.read_text() == TWO.replace("nodes = 12  # as bought", "nodes = 17  # as bought")
    assert told == [load(path)]
    assert "pier.toml has 17 nodes for pier/1 now." in session.page.outcome
    assert [each.kind for each in read_logbook(logbook_path(path))] == [Kind.FOUND, Kind.FIXED]
    with pytest.raises(PlanError, match="17 nodes are written"):
        session.undo()


def test_a_counted_number_is_left_as_it_is_when_not(path: Path):
    """The offer goes, the file stays; the answer can still be taken back."""
    session = search(path, [])
    finished(session, Fault.FEWER, 9)
    session.answer(LEAVE)
    assert session.page.answers == ()
    assert path.read_text() == TWO
    assert session.undo()


def test_after_a_correction_the_round_goes_on_with_the_file_as_it_is_now(path: Path):
    """The next search is made of the new display, and the verdict before is kept."""
    from streamer.engine.messages import Setup

    seen: list[tuple[str, Display]] = []
    told: list[Display] = []

    def begin(setup: Setup, port: str, rewritten: Callable[[Display], None]) -> FindSession:
        seen.append((port, setup.display))
        return FindSession(setup, port, 30, path, terms_of("count", "six"), rewritten)

    before = load(path)
    session = RoundSession(Setup(display=before), ("pier/1", "pier/2"), begin, told.append)
    assert session._search is not None
    finished(session._search, Fault.FEWER, 9)
    assert [key for key, _ in session.page.answers] == [NEXT, CORRECT]
    session.answer(CORRECT)
    session.answer(NEXT)
    assert session.page.title.startswith("Find 2/2: pier/2")
    assert seen[0] == ("pier/1", before)
    assert seen[-1] == ("pier/2", load(path))
    assert told == [load(path)]
    session.skip()
    assert session.page.outcome[0] == "2 ports: 1 not as planned, 1 not looked at."
    session.close()


def test_a_healthy_verdict_says_what_still_pictures_do_not_show(path: Path):
    """Lost packets show in motion only; without colours, their order was not looked at."""
    from streamer.engine.messages import Setup

    setup = Setup(display=load(path))
    session = FindSession(setup, "pier/1", 30, path, terms_of("anything", "lit"))
    finished(session, Fault.HEALTHY, 12)
    told = " ".join(session.page.outcome)
    assert "These pictures stood still." in told
    assert "Colours and their order were not looked at" in told
