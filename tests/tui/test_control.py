"""Control in other hands: dark is never refused, lighting again is asked, and refusals say what to press."""

import pytest
from textual.widgets._toast import Toast

from streamer.engine.messages import Dark, Pause, Refusal, Refused, State, TakeControl
from tests.tui.sizes import PHONE, USUAL, large
from tests.tui.stage import Open, Stage
from tui.control import NIGHT_WAITS, darkened_words

NIGHT = "ropewalk soak, process 12"
SCREEN = "screen, process 12"


async def attach(stage: Stage, holder: str, state: State = State.RUNNING) -> None:
    """Have somebody else hold control of what is playing."""
    await stage.start()
    stage.engine.tell(state=state, yours=False, control=holder)
    await stage.until(lambda: stage.app.talk.is_held_elsewhere)


@pytest.mark.parametrize(
    ("size", "key"),
    [
        (USUAL, "space"),
        (PHONE, "f8"),
        large(200, 60, "f8"),
        pytest.param(PHONE, "space", marks=pytest.mark.slow),
        pytest.param(USUAL, "f8", marks=pytest.mark.slow),
    ],
)
async def test_dark_on_a_night_run_is_at_once_and_says_what_becomes_of_it(
    opened: Open, size: tuple[int, int], key: str
):
    """Whoever is at the wiring waits for nobody; the record is told of, and the second press lights again."""
    async with opened(size=size) as stage:
        await attach(stage, NIGHT)
        await stage.pilot.press(key)
        await stage.until(lambda: stage.app.talk.status.state is State.DARK)
        assert stage.engine.asked[-2:] == [TakeControl(), Dark(on=True)]
        (said,) = (each.message for each in stage.app._notifications)
        assert said == darkened_words(NIGHT) == stage.app.talk.words[-1]
        assert NIGHT in said
        assert NIGHT_WAITS in said
        await stage.pilot.press(key)
        await stage.until(lambda: stage.app.talk.status.state is State.RUNNING)
        assert stage.engine.asked[-1] == Dark(on=False)


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_what_is_said_of_dark_hides_neither_what_is_wrong_nor_half_a_line(
    opened: Open, size: tuple[int, int]
):
    """Halves of two lines would be read as one; and dark that is not sent is not dark."""
    async with opened(size=size, has_toasts=True) as stage:
        await attach(stage, NIGHT)
        stage.engine.tell(yours=False, control=NIGHT, complaints=("10.0.0.12: no way to that network.",))
        await stage.until_read("! 10.0.0.12: no way to that network.")
        await stage.pilot.press("space")
        await stage.until_read("Dark was asked for, but not all of it may arrive")
        assert "All dark." not in stage.text
        assert "! 10.0.0.12: no way to that network." in stage.text
        toast = stage.app.screen.query_one(Toast)
        assert (toast.region.x, toast.region.width) == (0, size[0])


@pytest.mark.parametrize("holder", [NIGHT, SCREEN])
async def test_what_another_made_dark_is_lit_only_when_that_was_asked(opened: Open, holder: str):
    """They may be at the wiring; pressed again it is still only asked."""
    async with opened() as stage:
        await attach(stage, holder, State.DARK)
        asked = len(stage.engine.asked)
        await stage.pilot.press("space", "space")
        await stage.until_read("somebody may be at the wiring")
        assert len(stage.app.screen_stack) == 2
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert len(stage.engine.asked) == asked
        await stage.pilot.press("space")
        await stage.until_read("Enter takes control")
        await stage.pilot.press("enter")
        await stage.until(lambda: stage.engine.asked[asked:] == [TakeControl(), Dark(on=False)])


async def test_what_was_dark_before_this_screen_came_is_lit_only_when_that_was_asked(opened: Open):
    """Whoever made it dark has left their screen, not the wiring; a hasty Space meant dark."""
    async with opened() as stage:
        await stage.start()
        stage.engine.tell(state=State.DARK, yours=True)
        await stage.until(lambda: stage.app.talk.status.state is State.DARK)
        asked = len(stage.engine.asked)
        await stage.pilot.press("space")
        await stage.until_read("It was not this screen that made it dark")
        assert len(stage.engine.asked) == asked
        await stage.pilot.press("enter")
        await stage.until(lambda: Dark(on=False) in stage.engine.asked[asked:])


@pytest.mark.parametrize(
    ("holder", "words"), [(NIGHT, "a night run"), (SCREEN, "t takes it over"), ("", "t takes it")]
)
async def test_a_refusal_says_who_holds_control_and_what_to_press(opened: Open, holder: str, words: str):
    """Of anything else than dark."""
    async with opened(size=(120, 40)) as stage:
        await attach(stage, holder)
        stage.engine.tell(complaints=("10.0.0.12 port 5568: nothing listens on that port.",))
        await stage.pilot.press("enter")
        assert stage.engine.asked[-1] == Pause(on=True)
        stage.engine.say(Refused(request="pause", why=Refusal.NO_CONTROL, reason="Not in these hands."))
        await stage.until(lambda: f"! {holder or 'Nobody'} holds control" in stage.text)
        await stage.pilot.press("e")
        await stage.until_read(words)


async def test_another_refusal_is_told_as_it_is_whatever_its_words(opened: Open):
    """Words are for a person: a pattern may have any name, and a refusal may name it."""
    async with opened(size=(120, 40)) as stage:
        await attach(stage, NIGHT)
        stage.engine.say(
            Refused(request="change", why=Refusal.CANNOT_BE, reason="There is no pattern holds control.")
        )
        await stage.until_read("! There is no pattern holds control.")


async def test_who_takes_a_night_run_over_is_told_what_it_means(opened: Open):
    """Its programme waits, and its record tells that."""
    async with opened(size=(120, 40)) as stage:
        await attach(stage, NIGHT)
        await stage.pilot.press("t")
        assert stage.engine.asked[-1] == TakeControl()
        assert [each.message for each in stage.app._notifications] == [NIGHT_WAITS]
        await stage.pilot.press("e")
        await stage.until_read("The night run's programme waits, and its record tells that")
