"""The main job, by keys and by taps: start, step, jump, hold, dark, stop; and what is asked of the engine."""

from functools import partial

import pytest
from pydantic import BaseModel

from streamer.engine.messages import (
    Change,
    Dark,
    Jump,
    Leash,
    Loosen,
    Pause,
    Play,
    Refusal,
    Refused,
    Step,
    Stop,
    TakeControl,
)
from tests.tui import fakes
from tests.tui.stage import Open, Stage


def asked(stage: Stage, kind: type[fakes.Kind]) -> list[fakes.Kind]:
    """Return the requests of one kind that the engine has got."""
    return [each for each in stage.engine.asked if isinstance(each, kind)]


async def test_nothing_is_sent_before_somebody_presses_start(opened: Open):
    """Opening the screen asks nothing of the engine."""
    async with opened() as stage:
        await stage.pilot.pause()
        assert stage.engine.asked == []
        assert "Idle: Enter starts walk on boathouse" in stage.text


async def test_the_demo_plays_at_once(opened: Open):
    """Only with `plays_at_once` does the screen start by itself."""
    async with opened(plays_at_once=True) as stage:
        assert len(asked(stage, Play)) == 1


async def test_the_main_job_by_keys(opened: Open):
    """Start, next, back, a number, hold, run on, dark and light, stop: each key asks for just that."""
    async with opened() as stage:
        await stage.start()
        play = asked(stage, Play)[0]
        assert (play.setup.display, play.show.level_percent) == (stage.display, 30)
        steps: tuple[tuple[str, BaseModel], ...] = (
            ("right", Step(by=1)), ("left", Step(by=-1)), ("pagedown", Step(by=10)), ("pageup", Step(by=-10)),
            ("home", Jump(step=0)), ("enter", Pause(on=False)), ("enter", Pause(on=True)),
            ("space", Dark(on=True)), ("space", Dark(on=False)), ("f8", Dark(on=True)), ("s", Stop()),
        )  # fmt: skip
        for key, request in steps:
            await stage.pilot.press(key)
            await stage.until(partial(stage.engine.is_asked_last, request))
        await stage.until(lambda: "Idle" in stage.text)


async def test_a_number_and_enter_go_to_that_node(opened: Open):
    """People count from 1, the engine from 0; the digits are shown while they are typed."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("3", "8", "backspace", "7")
        assert "Go to 37" in stage.text
        await stage.pilot.press("enter")
        await stage.until(lambda: "In hand: walk, node 37 of 120" in stage.text)
        assert stage.engine.asked[-1] == Jump(step=36)


async def test_escape_forgets_the_number(opened: Open):
    """Esc backs out of a number; Enter then is the usual Enter again."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("9", "escape", "enter")
        assert asked(stage, Jump) == []
        assert stage.engine.asked[-1] == Pause(on=True)


async def test_the_main_job_by_taps(opened: Open):
    """The keycaps, the dark key and the rope do by a tap what the keys do."""
    async with opened() as stage:
        await stage.pilot.click(".now-0")
        await stage.until(lambda: "Running" in stage.text)
        await stage.pilot.click(".now-1")
        await stage.until(lambda: stage.engine.asked[-1] == Step(by=1))
        await stage.pilot.click("DarkCap")
        await stage.until(lambda: stage.engine.asked[-1] == Dark(on=True))
        await stage.pilot.click("DarkCap")
        await stage.until(lambda: stage.engine.asked[-1] == Dark(on=False))
        await stage.pilot.click("Rope", offset=(1, 0))
        await stage.until(lambda: isinstance(stage.engine.asked[-1], Jump))
        await stage.pilot.click(".now-4")
        await stage.until(lambda: stage.engine.asked[-1] == Stop())


@pytest.mark.slow
async def test_dark_works_on_every_sheet_and_while_text_is_typed(opened: Open):
    """F8 and the dark cap work everywhere; Space does too, except where it belongs to a text."""
    async with opened() as stage:
        await stage.start()
        for sheet in ("p", "d", "question_mark", "e", "f2"):
            await stage.pilot.press(sheet)
            await stage.pilot.pause()
            before = len(asked(stage, Dark))
            await stage.pilot.press("f8")
            assert len(asked(stage, Dark)) == before + 1, sheet
            await stage.pilot.press("escape")
        await stage.pilot.press("d")
        await stage.pilot.pause()
        before = len(asked(stage, Dark))
        await stage.pilot.press("space")
        assert len(asked(stage, Dark)) == before
        assert "F8" in stage.text
        await stage.pilot.click("PlaceSheet DarkCap")
        assert len(asked(stage, Dark)) == before + 1


async def test_ports_are_chosen_by_keys_and_by_taps(opened: Open):
    """M turns a port off and on, o leaves only it or brings all back; the row's ends do the same."""
    async with opened() as stage:
        await stage.start()
        names = [port.name for port in stage.display.ports]
        await stage.pilot.press("down", "m")
        assert stage.engine.last(Change).show.ports == tuple(name for name in names if name != "jetty/2")
        await stage.until(lambda: "○ jetty/2" in stage.text)
        await stage.pilot.press("m")
        assert stage.engine.last(Change).show.ports is None
        await stage.pilot.press("o")
        assert stage.engine.last(Change).show.ports == ("jetty/2",)
        await stage.pilot.press("o")
        assert stage.engine.last(Change).show.ports is None
        await stage.pilot.click("Lane", offset=(1, 1))
        await stage.until(lambda: stage.engine.last(Change).show.ports == tuple(names[1:]))
        await stage.pilot.click("Lane", offset=(76, 3))
        await stage.until(lambda: stage.engine.last(Change).show.ports == (names[2],))


async def test_level_and_pace_change_while_it_runs(opened: Open):
    """Plus and minus turn the level by 5 %, > and < the pace; quick turns add up."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("plus", "plus", "minus")
        assert [each.show.level_percent for each in asked(stage, Change)] == [35, 40, 35]
        await stage.pilot.press("greater_than_sign")
        assert asked(stage, Change)[-1].show.pace == pytest.approx(7.5)


async def test_full_power_asks_first_and_escape_backs_out(opened: Open):
    """Above 60 % the screen asks once; no is no, yes is yes, and it does not ask again."""
    async with opened(level=60) as stage:
        await stage.start()
        await stage.pilot.press("plus")
        await stage.until(lambda: "Full power" in stage.text)
        await stage.pilot.press("escape")
        assert asked(stage, Change) == []
        await stage.pilot.press("plus")
        await stage.until(lambda: "Full power" in stage.text)
        await stage.pilot.press("enter")
        await stage.until(lambda: bool(asked(stage, Change)))
        await stage.pilot.press("plus")
        assert asked(stage, Change)[-1].show.level_percent == 70


async def test_the_cautions_come_before_the_first_light_on_real_destinations(opened: Open):
    """Packets that leave the machine start after the cautions only; a second start does not ask again."""
    async with opened(display=fakes.boathouse("192.0.2.7")) as stage:
        await stage.pilot.press("enter")
        await stage.until(lambda: "residual-current" in stage.text)
        assert asked(stage, Play) == []
        await stage.pilot.press("escape")
        await stage.pilot.pause()
        assert asked(stage, Play) == []
        await stage.pilot.press("enter")
        await stage.until(lambda: "residual-current" in stage.text)
        await stage.start()
        await stage.pilot.press("s")
        await stage.until(lambda: "Idle" in stage.text)
        await stage.start()
        assert len(asked(stage, Play)) == 2


async def test_who_watches_can_take_control(opened: Open):
    """Who holds control is on the screen, and t takes it."""
    async with opened(size=(120, 40)) as stage:
        await stage.start()
        stage.engine.tell(yours=False, control="phone, process 12")
        await stage.until(lambda: "held by phone, process 12, t takes it" in stage.text)
        await stage.pilot.press("t")
        assert stage.engine.asked[-1] == TakeControl()
        await stage.until(lambda: "you hold control" in stage.text)


async def test_the_leash_is_shown_and_changed(opened: Open):
    """The screen says what becomes of the lights when it closes; l changes that."""
    async with opened() as stage:
        await stage.start()
        assert "leash: dark if this closes" in stage.text
        await stage.pilot.press("l")
        assert stage.engine.asked[-1] == Loosen(leash=Leash.FREE)
        await stage.until(lambda: "no leash: goes on if this closes" in stage.text)


async def test_a_refusal_stays_readable(opened: Open):
    """A refused request is told with its reason, and is still there after more reports."""
    async with opened() as stage:
        await stage.start()
        stage.engine.say(
            Refused(
                request="change", why=Refusal.NO_CONTROL, reason="Somebody else holds control. Take it first."
            )
        )
        stage.engine.tell(step=5)
        await stage.until(lambda: "! Somebody else holds control. Take it first." in stage.text)
        await stage.pilot.press("e")
        await stage.until(lambda: "Errors and refusals" in stage.text)
        assert "Somebody else holds control" in stage.text


async def test_an_engine_that_vanishes_is_told_with_what_to_do(opened: Open):
    """The link's end is no crash: the screen says so, says what to do, and asks nothing more."""
    async with opened(size=(120, 40)) as stage:
        await stage.start()
        stage.engine.vanish()
        await stage.until(lambda: "Gone: the engine no longer answers." in stage.text)
        assert "take their power away" in stage.text
        before = len(stage.engine.asked)
        await stage.pilot.press("space", "right")
        assert len(stage.engine.asked) == before
        await stage.pilot.press("q")
    assert stage.app.return_code == 0


async def test_counts_lateness_and_errors_are_shown(opened: Open):
    """Frames sent, late, skipped and held, the lateness, and the errors by their names are on the screen."""
    async with opened(size=(120, 40)) as stage:
        await stage.start()
        stage.engine.status = fakes.counted(stage.engine.status)
        stage.engine.tell()
        await stage.until(lambda: "frames 12345  late 2  skipped 1  held 3" in stage.text)
        assert "half 0.1, 99 % 0.3, worst 2.1 ms late" in stage.text
        assert "ENETUNREACH 4" in stage.text
