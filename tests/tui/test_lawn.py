"""At night with gloves on: no line that matters is cut, every key says what it does, errors go when read."""

from pathlib import Path

import pytest
from textual.widgets import Input

from streamer.display.model import Controller, Display, Protocol
from streamer.engine.messages import Dark, Refusal, Refused, State, Step
from tests.tui import fakes
from tests.tui.sizes import SIZES
from tests.tui.stage import Open, Stage
from tui.widgets.dial import Dial
from tui.widgets.lane_drawing import name_text

LONG_LABEL = "Walls and eaves, fed on the right from the shed"
CLAIMED = "This universe is claimed by somebody else."


def one_string(label: str) -> Display:
    """Return a display of one string with this label."""
    port = fakes.port("boathouse/2", 2, 12, 122, label)
    return Display(
        name="boathouse",
        controllers=(
            Controller(name="boathouse", protocol=Protocol.E131, address="127.0.0.1", ports=(port,)),
        ),
    )


def flat(stage: Stage) -> str:
    """Return the screen's words, whatever line they are on."""
    return " ".join(stage.text.split())


@pytest.mark.parametrize("size", SIZES)
async def test_the_colour_and_the_address_of_the_node_are_never_cut(opened: Open, size: tuple[int, int]):
    """A long label gives way first; colour, universe, slots, channel and destination are whole."""
    async with opened(size=size, display=one_string(LONG_LABEL)) as stage:
        await stage.start()
        stage.engine.shine(fakes.walking(stage.display, 59), ())
        await stage.look()
        text = flat(stage)
        assert "node 60 of 122" in text
        assert "red #FF0000, sent as #4C0000" in text
        assert "universe 12, slots 178-180 (channel 5810), to 127.0.0.1" in text


async def test_a_string_that_shows_nothing_says_which_node_was_lit_before(opened: Open):
    """In the dark the address of the break can still be read; it does not pass for a lit node."""
    async with opened() as stage:
        await stage.start()
        stage.engine.shine(fakes.walking(stage.display, 36), (0, 0, 0, 0))
        await stage.look()
        stage.engine.shine(fakes.walking(stage.display, 36) * 0, (0, 0, 0, 0))
        await stage.look()
        assert "node 37 of 120: dark, was lit" in stage.text


async def test_in_the_dark_the_keys_say_what_they_do(opened: Open):
    """The line names Space and the arrows; the arrows still step; Enter changes nothing, and says so."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("space")
        await stage.until(lambda: stage.app.talk.status.state is State.DARK)
        assert "Dark; Space lights it again, arrows step unseen: walk, node 1 of" in flat(stage)
        await stage.pilot.press("enter")
        notices = [each.message for each in stage.app._notifications]
        assert notices == ["Still dark. Space brings the lights back."]
        assert stage.engine.is_asked_last(Dark(on=True))
        await stage.pilot.press("right")
        assert stage.engine.is_asked_last(Step(by=1))


async def test_an_error_goes_with_escape_and_comes_again_when_it_happens_again(opened: Open):
    """Out of sight, not forgotten: e still lists it, and the same error a second time is shown again."""
    async with opened() as stage:
        await stage.start()
        stage.engine.say(Refused(request="x", why=Refusal.CANNOT_BE, reason=CLAIMED))
        await stage.until(lambda: CLAIMED in stage.text)
        await stage.pilot.press("escape")
        await stage.until(lambda: CLAIMED not in stage.text)
        await stage.pilot.press("e")
        await stage.until(lambda: CLAIMED in stage.text)
        await stage.pilot.press("escape")
        stage.engine.say(Refused(request="x", why=Refusal.CANNOT_BE, reason=CLAIMED))
        await stage.until(lambda: CLAIMED in stage.text)


async def test_a_gone_engine_cannot_be_put_out_of_sight(opened: Open):
    """That lights may stay lit is never hidden by a stray Esc."""
    async with opened() as stage:
        await stage.start()
        stage.engine.vanish()
        await stage.until(lambda: "take their power away" in flat(stage))
        await stage.pilot.press("escape")
        await stage.pilot.pause()
        assert "take their power away" in flat(stage)


async def test_digits_are_a_step_only_while_something_plays(opened: Open):
    """Before Start they do nothing, so that Enter is Start."""
    async with opened() as stage:
        await stage.pilot.press("7")
        assert "Go to" not in stage.text
        await stage.start()
        await stage.pilot.press("7")
        assert "Go to 7" in stage.text
        assert "Forget" in stage.text
        await stage.pilot.press("s")
        await stage.until(lambda: "Idle" in stage.text)
        assert stage.app.typed == ""


async def test_the_palette_begins_with_dark(opened: Open):
    """Before anything is typed the list is in the order of the table, not of the alphabet."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("f2")
        await stage.until(lambda: "Dark/light (F8)" in stage.text)
        assert stage.text.index("Dark/light (F8)") < stage.text.index("Stop (s)")


async def test_no_file_named_says_what_to_do(opened: Open):
    """An empty field is not the folder that the program was started in."""
    async with opened(has_display=False) as stage:
        await stage.pilot.press("enter")
        await stage.until(lambda: "Where the lights are" in stage.text)
        await stage.pilot.press("enter")
        await stage.until(lambda: "no file is named" in stage.text)
        assert "ropewalk new display.toml" in flat(stage)
        stage.app.screen.query_one("#display_file", Input).value = str(Path("there-is-none.toml"))
        await stage.pilot.press("enter")
        await stage.until(lambda: "there is no such file" in flat(stage))


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_what_a_setting_is_for_is_read_in_full(opened: Open, size: tuple[int, int]):
    """The sentence under a dial goes on in the next line where it is long."""
    async with opened(size=(size[0], 100)) as stage:
        await stage.pilot.press("p")
        await stage.until(lambda: "Put back" in stage.text)
        dials = list(stage.app.screen.query(Dial))
        assert dials
        for dial in dials:
            lines = dial.render().wrap(dial.size.width)
            assert dial.size.height == len(lines), dial.label
            assert dial.label in lines[0].plain, dial.label


def test_a_name_keeps_its_number_and_shows_the_beginning_of_its_label():
    """With little room the port's number stays; a label is shown as far as it goes."""
    assert name_text("boathouse/12", "", 9) == "boath…/12"
    assert name_text("boathouse/2", "Walls and eaves", 20) == "boathouse/2  Walls …"
    assert name_text("lake/1", "Reeds", 20).rstrip() == "lake/1  Reeds"
