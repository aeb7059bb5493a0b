"""A key answers only a look that is up; a key that does nothing says so (our own promise, no standard)."""

from threading import Event

import pytest

from streamer.engine.messages import Change, State
from tests.tui.fakes import walking
from tests.tui.sizes import PHONE, USUAL
from tests.tui.stage import Open, Stage
from tests.tui.test_asking import until_asked
from tui.screens.asking import EARLY, Asking
from tui.session import Look, Page
from tui.widgets.arrived import Arrived

NOTHING_DONE = "did nothing"


async def open_find_slowly(stage: Stage) -> None:
    """Open the search while no frame goes out."""
    stage.engine.is_slow = True
    await stage.pilot.press("w")
    await stage.until(lambda: "What's wrong?" in stage.text)
    await stage.pilot.press("enter")
    await stage.until(lambda: "first lit node" in stage.text or "last lit node" in stage.text)


@pytest.mark.parametrize(
    ("size", "key"),
    [
        (USUAL, "3"),
        (PHONE, "enter"),
        *(
            pytest.param(size, key, marks=pytest.mark.slow)
            for size, keys in ((USUAL, ("enter", "s", "7")), (PHONE, ("3", "s", "7")))
            for key in keys
        ),
    ],
)
async def test_a_key_before_the_look_is_up_does_nothing_and_says_so(
    opened: Open, key: str, size: tuple[int, int]
):
    """The question can be read, the picture is not there yet."""
    async with opened(size=size) as stage:
        await open_find_slowly(stage)
        await stage.pilot.press(key)
        await stage.until(lambda: NOTHING_DONE in stage.text)
        assert "Look 1" in stage.text
        stage.engine.send_frames()
        await until_asked(stage, "Look 1")
        assert NOTHING_DONE in stage.text, "still to be read when the picture comes a moment later"
        stage.engine.is_slow = False
        await stage.pilot.press("3")
        await until_asked(stage, "Look 2")
        assert NOTHING_DONE not in stage.text


async def test_enter_answers_only_what_was_chosen(opened: Open):
    """One that was pressed twice at the beginning is no answer to the first look."""
    async with opened(size=(80, 24)) as stage:
        await stage.pilot.press("w")
        await stage.until(lambda: "What's wrong?" in stage.text)
        await stage.pilot.press("enter")
        await until_asked(stage, "Look 1")
        await stage.pilot.press("enter")
        await stage.until(lambda: NOTHING_DONE in stage.text)
        assert "Look 1" in stage.text
        await stage.pilot.press("down", "enter")
        await until_asked(stage, "Look 2")
        assert NOTHING_DONE not in stage.text


@pytest.mark.parametrize("size", [PHONE, pytest.param(USUAL, marks=pytest.mark.slow)])
async def test_a_click_before_the_look_is_up_does_nothing_and_says_so(opened: Open, size: tuple[int, int]):
    """The answers are drawn faint: whoever clicks one is told why it is not taken, and later it is."""
    async with opened(size=size) as stage:
        await open_find_slowly(stage)
        await stage.pilot.click("#asking-answers", offset=(6, 3))
        await stage.until(lambda: NOTHING_DONE in stage.text)
        assert "Look 1" in stage.text
        stage.engine.is_slow = False
        stage.engine.send_frames()
        await until_asked(stage, "Look 1")
        await stage.pilot.click("#asking-answers", offset=(6, 3))
        await until_asked(stage, "Look 2")
        assert NOTHING_DONE not in stage.text


async def test_two_keys_at_once_answer_one_look(opened: Open):
    """The second was pressed for a look that nobody had seen."""
    async with opened() as stage:
        await open_find_slowly(stage)
        stage.engine.send_frames()
        await until_asked(stage, "Look 1")
        await stage.pilot.press("3", "3", "3")
        await stage.until(lambda: "Look 2" in stage.text)
        assert NOTHING_DONE in stage.text
        assert len([each for each in stage.engine.asked if isinstance(each, Change)]) == 1


async def test_in_the_dark_nothing_is_asked_until_the_look_is_back(opened: Open):
    """What is dark cannot have been seen."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("space")
        await stage.until(lambda: stage.app.talk.status.state is State.DARK)
        await open_find_slowly(stage)
        stage.engine.send_frames()
        await stage.pilot.press("3")
        await stage.until(lambda: NOTHING_DONE in stage.text)
        assert "Space brings" in stage.text
        await stage.pilot.press("space")
        stage.engine.send_frames()
        await until_asked(stage, "Look 1")


async def test_a_look_counts_once_the_yard_has_shown_it(opened: Open):
    """What the yard showed before, perhaps on another port, is not on the sheet meanwhile."""
    async with opened(size=(120, 40), has_yard=True) as stage:
        dark = walking(stage.display, 10_000)
        stage.yard.shine(dark)
        await stage.until(lambda: stage.app.talk.arrivals is not None)
        await open_find_slowly(stage)
        stage.yard.shine(dark)
        stage.engine.send_frames()
        await stage.until(lambda: stage.app.talk.status.counts.frames == 2)
        sheet = stage.app.screen
        assert isinstance(sheet, Asking)
        assert sheet._is_closed
        sheet._see_arrivals()
        assert not sheet.query_one(Arrived).visible
        stage.yard.shine(dark)
        await until_asked(stage, "Look 1")
        assert sheet.query_one(Arrived).visible


async def test_a_digit_that_is_none_of_the_answers_says_so(opened: Open):
    """Yes and no have the keys 1 and 2; a 5 is a slip."""
    async with opened() as stage:
        await stage.pilot.press("g")
        await until_asked(stage, "Look 1 of")
        await stage.pilot.press("9")
        await stage.until(lambda: "9 is none of the answers" in stage.text)
        assert "Look 1 of" in stage.text


class SlowThinker:
    """A session that thinks until it is let go on."""

    cells = None
    why = ("because",)

    def __init__(self, lights: Look) -> None:
        self.thought = Event()
        self.given: list[str] = []
        self.is_closed = False
        self._lights = lights

    @property
    def look(self) -> Look:
        """What is up."""
        return self._lights

    @property
    def page(self) -> Page:
        """A question that tells its number."""
        number = len(self.given) + 1
        return Page(f"Look {number}", 0.0, "", f"Question {number}?", (("1", "yes"), ("2", "no")))

    def answer(self, key: str) -> None:
        """Think, then take it."""
        self.thought.wait(10)
        self.given.append(key)

    def skip(self) -> bool:
        """Nothing can be passed over."""
        return False

    def undo(self) -> bool:
        """Nothing can be taken back."""
        return False

    def close(self) -> None:
        """Say that it was closed."""
        self.is_closed = True


async def test_the_screen_stays_awake_while_it_thinks_and_keys_are_told(opened: Open):
    """Every key of the sheet is told meanwhile; Esc leaves, and the session is closed when it has thought."""
    async with opened() as stage:
        talk = stage.app.talk
        session = SlowThinker(Look(stage.setup, talk.show))
        stage.app.push_screen(Asking(talk, "Slow", lambda: session))
        await until_asked(stage, "Look 1")
        for key in ("1", "2", "enter", "backspace", "s"):
            await stage.pilot.press(key)
        await stage.until(lambda: "did nothing" in stage.text)
        assert "Question 1?" in stage.text
        session.thought.set()
        await until_asked(stage, "Look 2")
        assert session.given == ["1"]
        assert EARLY[:20] in stage.text
        session.thought.clear()
        await stage.pilot.press("2")
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert not session.is_closed
        session.thought.set()
        await stage.until(lambda: session.is_closed)
        assert session.given == ["1", "2"]


async def test_what_cannot_be_taken_back_or_passed_over_says_so(opened: Open):
    """Before the first answer, and at a question of which nothing can be passed over."""
    async with opened() as stage:
        talk = stage.app.talk
        session = SlowThinker(Look(stage.setup, talk.show))
        stage.app.push_screen(Asking(talk, "Slow", lambda: session))
        await until_asked(stage, "Look 1")
        await stage.pilot.press("backspace")
        await stage.until(lambda: "no answer to take back" in stage.text)
        await until_asked(stage, "Look 1")
        await stage.pilot.press("s")
        await stage.until(lambda: "nothing to pass over" in stage.text)
