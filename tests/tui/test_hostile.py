"""Names from files and from the network are text, whatever they hold."""

import pytest

from streamer.display.model import Controller, Display, Protocol
from streamer.engine.messages import Refusal, Refused
from tests.tui import fakes
from tests.tui.stage import Open
from tui.plain import cut, shown

HOSTILE = (
    "[red]loud[/red]", "\x1b[31mred\x1b[0m", "\ud800", "", "[/]\\[b]$error\x9b2J\u202e\u200b\ttab 漢字",
)  # fmt: skip
ONE_BY_ONE = (
    "[/]", "[@click=app.quit]x[/]", "tab\there", "line\nbreak", "\x9b2J", "right\u202eto left", "wide 漢字",
    "zero\u200bwidth", "[" * 50, "\\[b]", "$error",
)  # fmt: skip


@pytest.mark.parametrize(
    "name", [*HOSTILE, *(pytest.param(each, marks=pytest.mark.slow) for each in ONE_BY_ONE)]
)
async def test_a_hostile_name_is_plain_text_everywhere(opened: Open, name: str):
    """As a port, a label, a controller, a display, an engine's line and a refusal: shown, obeyed nowhere."""
    controller = Controller(
        name=name,
        protocol=Protocol.E131,
        address="127.0.0.1",
        ports=(fakes.port(name or "p", 1, 1, 50, name),),
    )
    async with opened(
        size=(120, 40), display=Display(name=name, controllers=(controller,)), has_yard=True
    ) as stage:
        assert "\x1b" not in stage.text
        if name.startswith("[red]"):
            assert "[red]loud[/red]" in stage.text
        await stage.start()
        stage.engine.say(Refused(request="x", why=Refusal.CANNOT_BE, reason=f"reason {name}"))
        stage.engine.status = stage.engine.status.model_copy(
            update={"route": name, "control": name, "yours": False}
        )
        stage.engine.tell()
        await stage.pilot.press("e")
        await stage.until(lambda: "reason" in stage.text)
        await stage.pilot.press("escape", "f")
        await stage.until(lambda: "A fault for the yard" in stage.text)
        for unsafe in ("\x1b", "\x9b", "\u202e", "\u200b", "\t"):
            assert unsafe not in stage.text


def test_control_characters_are_made_visible():
    """Each becomes the replacement character; plain text stays as it is."""
    assert shown("a\x1b[0mb\u202ec\nd") == "a\ufffd[0mb\ufffdc\ufffdd"
    assert shown("Gable, west") == "Gable, west"


def test_text_is_cut_by_cells_not_by_characters():
    """A wide character takes two cells; the result is exactly as wide as asked."""
    assert cut("漢字漢字", 5) == "漢字…"
    assert cut("ab", 4) == "ab  "
    assert cut("abcdef", 4) == "abc…"
    assert cut("abc", 0) == ""
