"""The night run on its sheet: begun with what was written, seen as the journal has it, ended by a key."""

from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.events import Key
from textual.widgets import Input

from streamer.engine.messages import Dark
from streamer.errors import LinkError
from streamer.soak.journal import Journal, journal_path
from streamer.soak.records import Ended, EndReason, EventKind
from tests.soak.conftest import Clocks, event, facts, sample
from tests.tui.stage import Open, Stage
from tui.screens.night import NightSheet

HOUR_S = 3600.0


@dataclass
class Said:
    """A command that was begun: what it said last, and whether another run was in its way."""

    last_words: str
    is_beside_another: bool = False


class Nights:
    """What the sheet asks for; keeps it."""

    def __init__(self) -> None:
        self.said = Said("")
        self.begun: list[tuple[str, str]] = []
        self.ended = self.gone_on = 0
        self.beside: list[bool] = []
        self.refusal = ""

    def begin(self, until: str, programme: str, anyway: bool) -> Said:  # noqa: FBT001  as the sheet says it
        """Keep it, or refuse."""
        if self.refusal:
            raise LinkError(self.refusal)
        self.begun.append((until, programme))
        self.beside.append(anyway)
        return self.said

    def go_on(self, anyway: bool) -> Said:  # noqa: FBT001  the same
        """Count it, or refuse."""
        if self.refusal:
            raise LinkError(self.refusal)
        self.gone_on += 1
        self.beside.append(anyway)
        return self.said

    def end(self) -> None:
        """Count it."""
        self.ended += 1


@pytest.fixture(name="nights")
def _nights() -> Nights:
    return Nights()


@pytest.fixture(name="clocks")
def _clocks() -> Clocks:
    return Clocks()


@pytest.fixture(name="file")
def _file(tmp_path: Path) -> Path:
    return tmp_path / "display.toml"


async def show(stage: Stage, file: Path, nights: Nights, clocks: Clocks, said: str = "") -> None:
    """Open the sheet."""
    nights.said.last_words = said
    sheet = NightSheet(file, nights.begin, nights.go_on, nights.end, now_unix_s=lambda: clocks.unix_s)
    stage.app.push_screen(sheet)
    await stage.until(lambda: "Night run" in stage.text)


def two_hours(file: Path, clocks: Clocks) -> None:
    """Write two of eight hours, with a cable that is out."""
    with Journal(journal_path(file)) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(2 * HOUR_S)
        at = pen.clock.moment(*clocks.now)
        pen.note(event(EventKind.LINK_DOWN, at, "[b]eth0\x1b[2J", words="its cable leads nowhere"))
        pen.sample(sample(at))


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_how_it_stands_is_what_the_journal_says(
    opened: Open, file: Path, nights: Nights, clocks: Clocks, size: tuple[int, int]
):
    """How far, how long still, and what is wrong; names are plain text."""
    two_hours(file, clocks)
    async with opened(size=size) as stage:
        await show(stage, file, nights, clocks)
        text = " ".join(stage.text.split())
        assert "25 %, 6 h left" in text
        assert "! link down [b]eth0" in text
        assert "\x1b" not in stage.text
        stage.check(f"night-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_a_run_that_was_broken_off_says_so_and_f5_goes_on_with_it(
    opened: Open, file: Path, nights: Nights, clocks: Clocks, size: tuple[int, int]
):
    """Since when, how long is left; then the gap is told."""
    two_hours(file, clocks)
    clocks.go(600)
    async with opened(size=size) as stage:
        await show(stage, file, nights, clocks)
        text = " ".join(stage.text.split())
        assert "5 h 50 min left" in text
        assert "It was broken off at 00:00:00, 10 min ago." in text
        assert "F5 goes on in the same run" in text
        stage.check(f"night-broken-off-{size[0]}x{size[1]}")
        await stage.pilot.press("f5")
        assert nights.gone_on == 1
        with Journal(journal_path(file)) as journal:
            again = journal.resume(*clocks.now)
            assert again is not None
            again.sample(sample(again.clock.moment(*clocks.now)))
        await stage.until(lambda: "taken up again" in " ".join(stage.text.split()))
        text = " ".join(stage.text.split())
        assert "nothing is known of 00:00:00 to 00:10:00" in text
        assert "F5" not in text


async def test_it_is_begun_with_what_was_written(opened: Open, file: Path, nights: Nights, clocks: Clocks):
    """Until six unless something else is asked; the programme of all parts unless some are named."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks)
        await stage.pilot.press("enter")
        stage.app.screen.query_one("#until", Input).value = "05:30"
        stage.app.screen.query_one("#programme", Input).value = "full:5m,dark"
        await stage.pilot.press("enter")
        assert nights.begun == [("06:00", ""), ("05:30", "full:5m,dark")]


async def test_enter_overtakes_no_letter(opened: Open, file: Path, nights: Nights, clocks: Clocks):
    """Typed or pasted without a pause; else the night would last as long as the field said before."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks)
        stage.app.screen.query_one("#until", Input).value = ""
        for key in ("5", "m", "enter"):
            stage.app.post_message(Key(key, key if len(key) == 1 else None))
        await stage.until(lambda: nights.begun == [("5m", "")])


async def test_what_it_says_when_it_cannot_begin_is_shown(
    opened: Open, file: Path, nights: Nights, clocks: Clocks
):
    """The command's own last words, since nobody sees its terminal."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks, said="screen already sends universe 7")
        await stage.pilot.press("enter")
        await stage.until(lambda: "screen already sends universe 7" in stage.text)


async def test_one_that_was_begun_here_and_broken_off_is_offered_to_go_on_with(
    opened: Open, file: Path, nights: Nights, clocks: Clocks
):
    """What the command said at its beginning is no longer what matters."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks, said="Caution: real lights change")
        await stage.pilot.press("enter")
        await stage.until(lambda: "Caution" in stage.text)
        two_hours(file, clocks)
        await stage.until(lambda: "25 %" in stage.text and "Caution" not in stage.text)
        clocks.go(60)
        await stage.until(lambda: "F5 goes on in the same run" in stage.text)
        assert "Caution" not in stage.text


async def test_why_one_could_not_begin_is_told_once(opened: Open, file: Path, nights: Nights, clocks: Clocks):
    """By its journal where it has come so far, else by the command's last words."""
    why = "controller jetty at multicast: no way"
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks, said=why)
        await stage.pilot.press("enter")
        await stage.until(lambda: why in stage.text)
        with Journal(journal_path(file)) as journal:
            pen = journal.begin(facts(), *clocks.now)
            pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.FAILED, why))
        await stage.until(lambda: "It has ended" in stage.text)
        assert " ".join(stage.text.split()).count(why) == 1
        await stage.pilot.press("enter")
        await stage.until(lambda: " ".join(stage.text.split()).count(why) == 2)


async def test_f9_ends_it_and_a_refusal_is_told(opened: Open, file: Path, nights: Nights, clocks: Clocks):
    """Escape only closes the sheet: the night goes on."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks)
        await stage.pilot.press("f9")
        assert nights.ended == 1
        nights.refusal = "no room for another process"
        await stage.pilot.press("enter")
        await stage.until(lambda: "no room for another process" in stage.text)
        await stage.pilot.press("escape")
        await stage.until(lambda: "Night run" not in stage.text)
        assert nights.ended == 1


async def test_a_display_from_no_file_has_no_journal_and_that_is_said(opened: Open):
    """The key opens nothing, and says what to choose first."""
    async with opened(size=(80, 24)) as stage:
        await stage.pilot.press("f4")
        await stage.until(lambda: "from no file" in " ".join(stage.text.split()))


@pytest.fixture(name="on")
def _on(monkeypatch: pytest.MonkeyPatch, file: Path, nights: Nights) -> Nights:
    """Return those of a display whose night run goes on."""
    monkeypatch.setattr("tui.guided.Guided.display_file", file)
    monkeypatch.setattr("tui.nights.is_on", lambda _file: not nights.ended)
    monkeypatch.setattr("tui.nights.end", lambda _file: nights.end())
    return nights


@pytest.mark.parametrize("place", ["main screen", "night sheet"])
async def test_dark_ends_a_night_run_where_the_screen_itself_lights_nothing(
    opened: Open, file: Path, on: Nights, clocks: Clocks, place: str
):
    """All lights dark at once, never asked: also those that are lit by the run behind the screen."""
    async with opened(size=(80, 24)) as stage:
        if place == "night sheet":
            await show(stage, file, on, clocks)
        await stage.pilot.press("f8" if place == "night sheet" else "space")
        await stage.until(lambda: on.ended == 1)
        assert not any(isinstance(each, Dark) for each in stage.engine.asked)
        if place == "main screen":
            await stage.until(lambda: "that ended the night run" in stage.text)
            await stage.pilot.press("space")
            await stage.until(lambda: stage.engine.asked[-1:] == [Dark(on=True)])
        assert on.ended == 1


async def test_dark_is_the_screens_own_while_it_lights_something(opened: Open, on: Nights):
    """A night run goes on then."""
    async with opened(size=(80, 24)) as stage:
        await stage.start()
        await stage.pilot.press("space")
        await stage.until(lambda: stage.engine.asked[-1] == Dark(on=True))
        assert on.ended == 0


RIVAL = (
    "controller roof at 10.0.0.9: screen already sends universe 1 there. End it first: ropewalk stop screen"
)


@pytest.mark.parametrize("size", [(80, 24), (40, 24)])
async def test_another_run_in_the_way_is_told_with_what_can_be_done_on_the_sheet(
    opened: Open, file: Path, nights: Nights, clocks: Clocks, size: tuple[int, int]
):
    """No option of a command line; the key for it does nothing where no other run is in the way."""
    nights.said.is_beside_another = True
    async with opened(size=size) as stage:
        await show(stage, file, nights, clocks, f"{RIVAL}. Or say --anyway.")
        await stage.pilot.press("f6")
        assert nights.begun == []
        assert "F6" not in stage.text
        await stage.pilot.press("enter")
        await stage.until_read("F6 begins beside it all the same: what the lights show then, no answer can")
        assert "--anyway" not in stage.text
        await stage.pilot.press("f6")
        await stage.until(lambda: nights.beside == [False, True])
        assert nights.begun[0] == nights.begun[1]


async def test_it_is_not_the_words_that_tell_of_another_run(
    opened: Open, file: Path, nights: Nights, clocks: Clocks
):
    """A file may be called anything; how the command ended is what counts."""
    async with opened(size=(80, 24)) as stage:
        await show(stage, file, nights, clocks, "odd.toml: no such file. Or say --anyway.")
        await stage.pilot.press("enter")
        await stage.until_read("no such file")
        await stage.pilot.press("f6")
        assert nights.beside == [False]
        nights.said = Said("Somebody is in the way.", is_beside_another=True)
        await stage.pilot.press("enter")
        await stage.until_read("Somebody is in the way. End it in another terminal")
        await stage.pilot.press("f6")
        assert nights.beside == [False, False, True]
