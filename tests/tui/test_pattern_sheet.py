"""Choosing the pattern and its settings: live, checked, and with a way back."""

from textual.widgets import OptionList

from patterns.registry import all_patterns, get
from streamer.engine.messages import Calm, Change, Play, Setup
from tests.tui.fakes import boathouse
from tests.tui.stage import Open, Stage
from tui.widgets.dial import Dial


async def open_sheet(stage: Stage) -> None:
    """Start, and open the sheet."""
    await stage.start()
    await stage.pilot.press("p")
    await stage.until(lambda: bool(stage.app.screen.query(Dial)))


def dial_of(stage: Stage, label: str) -> Dial:
    """Return the dial of this name."""
    return next(each for each in stage.app.screen.query(Dial) if each.label == label)


async def test_every_pattern_is_there_and_every_setting_of_it(opened: Open):
    """The list is the registry's, the dials are the pattern's parameters and what every pattern has."""
    async with opened() as stage:
        await open_sheet(stage)
        assert [each.id for each in stage.app.screen.query_one("#patterns", OptionList).options] == [
            each.name for each in all_patterns()
        ]
        labels = [each.label for each in stage.app.screen.query(Dial)]
        assert labels == [*(each.name for each in get("walk").params), "level", "pace", "rate", "flashes"]


async def test_a_turned_dial_is_seen_at_once_and_escape_puts_back(opened: Open):
    """Arrows change a number on the running streams; Esc restores the show from before."""
    async with opened() as stage:
        await open_sheet(stage)
        before = stage.app.talk.show
        dial_of(stage, "window").focus()
        await stage.pilot.press("right", "right")
        assert stage.engine.last(Change).show.params["window"] == 3
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert stage.engine.asked[-1] == Change(show=before)


async def test_typed_digits_replace_the_number_and_a_wrong_one_is_told(opened: Open):
    """Valid values are taken as they are typed; what is out of range is told and is not sent."""
    async with opened() as stage:
        await open_sheet(stage)
        dial_of(stage, "window").focus()
        await stage.pilot.press("1", "2")
        assert stage.engine.last(Change).show.params["window"] == 12
        await stage.pilot.press("0", "0")
        assert "window" in dial_of(stage, "window").problem
        assert float(stage.engine.last(Change).show.params["window"]) <= 100


async def test_another_pattern_is_chosen_by_key_and_kept_by_enter(opened: Open):
    """Enter on the list shows the pattern at once; Enter on a dial keeps it."""
    async with opened() as stage:
        await open_sheet(stage)
        names = [each.name for each in all_patterns()]
        name = names[names.index(stage.app.talk.show.pattern) - 1]
        await stage.pilot.press("up", "enter")
        await stage.until(lambda: stage.app.talk.show.pattern == name)
        assert stage.engine.last(Change).show.pattern == name
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


async def test_flashes_are_turned_down_in_the_run_and_for_the_next(opened: Open):
    """Three in any second at most (WCAG 2.3.1); more can be neither turned nor typed."""
    async with opened() as stage:
        await open_sheet(stage)
        dial = dial_of(stage, "flashes")
        dial.focus()
        await stage.pilot.press("right", "left", "left")
        assert [each.flashes_per_s for each in stage.engine.asked if isinstance(each, Calm)] == [2, 1]
        await stage.pilot.press("4")
        assert "WCAG" in dial.problem
        await stage.pilot.press("enter")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        stage.app.talk.play()
        await stage.until(lambda: isinstance(stage.engine.asked[-1], Play))
        assert stage.engine.last(Play).setup.flashes_per_s == 1


async def test_escape_puts_the_flashes_back_too(opened: Open):
    """As it does with every other dial."""
    async with opened() as stage:
        await open_sheet(stage)
        dial_of(stage, "flashes").focus()
        await stage.pilot.press("left", "escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert [each.flashes_per_s for each in stage.engine.asked if isinstance(each, Calm)] == [2, 3]


async def test_a_display_that_asks_for_fewer_flashes_cannot_be_turned_up(opened: Open):
    """The dial ends at what its file says."""
    async with opened(display=boathouse().model_copy(update={"flashes_per_s": 2})) as stage:
        await open_sheet(stage)
        dial = dial_of(stage, "flashes")
        dial.focus()
        await stage.pilot.press("right", "right")
        assert dial.value == 2
        assert not [each for each in stage.engine.asked if isinstance(each, Calm)]


async def test_a_run_that_was_on_already_keeps_to_the_flashes_asked_for_on_the_command_line(opened: Open):
    """`ropewalk ui FILE --flashes 1` finds an engine that plays at three: it is asked for one."""
    async with opened(flashes=1) as stage:
        running = Play(setup=Setup(display=stage.display), show=stage.app.talk.show)
        stage.engine.send(running)
        await stage.until(lambda: Calm(flashes_per_s=1) in stage.engine.asked)
        assert stage.setup.flashes_per_s == 1


async def test_one_that_another_controls_is_calmed_once_it_is_taken_over(opened: Open):
    """Before, only who controls it may ask; the screen says how often lights may flash in it."""
    async with opened(flashes=1) as stage:
        stage.engine.tell(yours=False, control="phone")
        stage.engine.send(Play(setup=Setup(display=stage.display), show=stage.app.talk.show))
        await stage.until(lambda: stage.app.talk.is_playing)
        assert Calm(flashes_per_s=1) not in stage.engine.asked
        await stage.pilot.press("t")
        await stage.until(lambda: Calm(flashes_per_s=1) in stage.engine.asked)
