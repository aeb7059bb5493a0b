"""Choosing the pattern and its settings: live, checked, and with a way back."""

from patterns.registry import all_patterns, get
from streamer.engine.messages import Change
from tests.tui.stage import Open, Stage
from tui.widgets.dial import Dial


async def open_sheet(stage: Stage):
    """Start, and open the sheet."""
    await stage.start()
    await stage.pilot.press("p")
    await stage.until(lambda: bool(stage.app.screen.query(Dial)))


def dial_of(stage: Stage, label: str):
    """Return the dial of this name."""
    return next(each for each in stage.app.screen.query(Dial) if each.label == label)


async def test_every_pattern_is_there_and_every_setting_of_it(opened: Open):
    """The list is the registry's, the dials are the pattern's parameters and level, pace, rate."""
    async with opened() as stage:
        await open_sheet(stage)
        assert [each.id for each in stage.app.screen.query_one("#patterns").options] == [
            each.name for each in all_patterns()
        ]
        labels = [each.label for each in stage.app.screen.query(Dial)]
        assert labels == [*(each.name for each in get("walk").params), "level", "pace", "rate"]


async def test_a_turned_dial_is_seen_at_once_and_escape_puts_back(opened: Open):
    """Arrows change a number on the running streams; Esc restores the show from before."""
    async with opened() as stage:
        await open_sheet(stage)
        before = stage.app.talk.show
        dial_of(stage, "window").focus()
        await stage.pilot.press("right", "right")
        assert stage.engine.asked[-1].show.params["window"] == 3
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert stage.engine.asked[-1] == Change(show=before)


async def test_typed_digits_replace_the_number_and_a_wrong_one_is_told(opened: Open):
    """Valid values are taken as they are typed; what is out of range is told and is not sent."""
    async with opened() as stage:
        await open_sheet(stage)
        dial_of(stage, "window").focus()
        await stage.pilot.press("1", "2")
        assert stage.engine.asked[-1].show.params["window"] == 12
        await stage.pilot.press("0", "0")
        assert "window" in dial_of(stage, "window").problem
        assert stage.engine.asked[-1].show.params["window"] <= 100


async def test_another_pattern_is_chosen_by_key_and_kept_by_enter(opened: Open):
    """Enter on the list shows the pattern at once; Enter on a dial keeps it."""
    async with opened() as stage:
        await open_sheet(stage)
        names = [each.name for each in all_patterns()]
        name = names[names.index(stage.app.talk.show.pattern) - 1]
        await stage.pilot.press("up", "enter")
        await stage.until(lambda: stage.app.talk.show.pattern == name)
        assert stage.engine.asked[-1].show.pattern == name
        await stage.pilot.press("right", "enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert stage.app.talk.show.pattern == name
        assert stage.app.memory.pattern == name


async def test_full_power_on_the_dial_asks_and_turns_back(opened: Open):
    """No to full power leaves the dial and the lights where they were."""
    async with opened(level=60) as stage:
        await open_sheet(stage)
        level = dial_of(stage, "level")
        level.focus()
        await stage.pilot.press("right")
        await stage.until(lambda: "Full power" in stage.text)
        await stage.pilot.press("escape")
        await stage.until(lambda: "Full power" not in stage.text)
        assert level.value == 60
        assert not [each for each in stage.engine.asked if isinstance(each, Change)]
