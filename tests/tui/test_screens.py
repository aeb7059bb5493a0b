"""What the screens look like, as text; and that no size breaks them."""

import pytest

from streamer.engine.messages import Dimmed, Refusal, Refused
from tests.tui import fakes
from tests.tui.sizes import PHONE, USUAL, large
from tests.tui.stage import Open, Stage
from tui.beads import COLOUR_NAMES

SIZES = (USUAL, (120, 40), PHONE)
SHEET_SIZES = (USUAL, PHONE, large(120, 40))


STORM = ((1, 1), (2, 3), (10, 5), (40, 10), (59, 15), (200, 60), (20, 5), (5, 60), (80, 24))
SHEET_STORM = ((1, 1), (40, 10), (80, 24))


def named(kind: str, size: tuple[int, int]) -> str:
    """Return the name under which a screen is stored."""
    return f"{kind}-{size[0]}x{size[1]}"


async def in_hand(stage: Stage) -> None:
    """Hold node 37 of every string, red."""
    await stage.start()
    stage.engine.shine(fakes.walking(stage.display, 36), (200, 76, 0, 0))
    stage.engine.status = fakes.counted(stage.engine.status)
    await stage.pilot.press("3", "7", "enter")
    await stage.until(lambda: "node 37 of 120" in stage.text)
    await stage.look()


@pytest.mark.parametrize("size", SIZES)
async def test_idle(opened: Open, size: tuple[int, int]):
    """Before anything is sent."""
    async with opened(size=size) as stage:
        stage.check(named("idle", size))


@pytest.mark.parametrize("size", SIZES)
async def test_in_hand(opened: Open, size: tuple[int, int]):
    """One node of every string in hand."""
    async with opened(size=size) as stage:
        await in_hand(stage)
        stage.check(named("in-hand", size))


@pytest.mark.parametrize("size", SIZES)
async def test_yard(opened: Open, size: tuple[int, int]):
    """What arrives under what is sent, one string differing by a sign, not only by a colour."""
    async with opened(size=size, has_yard=True) as stage:
        await in_hand(stage)
        arrived = fakes.walking(stage.display, 36)
        arrived[120:240] = 0
        stage.yard.shine(arrived)
        await stage.until(lambda: stage.app.talk.arrivals is not None)
        await stage.look(5)
        stage.check(named("yard", size))


@pytest.mark.parametrize("size", SHEET_SIZES)
@pytest.mark.parametrize(
    ("kind", "key"), [("pattern", "p"), ("place", "d"), ("help", "question_mark"), ("fault", "f")]
)
async def test_sheets(
    opened: Open, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int], kind: str, key: str
):
    """The sheets over the lane."""
    async with opened(size=size, has_yard=True) as stage:
        stage.app.chance.seed(1)
        monkeypatch.setattr(stage.app, "_interfaces", lambda: ("lo", "eth7"))
        await stage.pilot.press(key)
        await stage.until(lambda: len(stage.app.screen_stack) > 1)
        await stage.pilot.pause()
        stage.app.screen.query("Input").set(disabled=True)
        await stage.pilot.pause()
        if kind == "pattern":
            # The patterns' own words are theirs to change: only the frame is promised here.
            assert "Pattern" in stage.text
            assert "walk" in stage.text
            assert "Put back" in stage.text
        else:
            stage.check(named(kind, size))


async def test_no_colour(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """With NO_COLOR a lit node is told from a dark one by its letter, and nothing is lost."""
    monkeypatch.setenv("NO_COLOR", "1")
    async with opened() as stage:
        await in_hand(stage)
        stage.check("no-colour-80x24")


async def test_no_display(opened: Open):
    """Without a display the screen says what to press, and Enter chooses one; nothing is sent."""
    async with opened(has_display=False) as stage:
        stage.check("no-display-80x24")
        await stage.pilot.press("enter")
        await stage.until(lambda: "Where the lights are" in stage.text)
        assert stage.engine.asked == []


async def test_broad(opened: Open):
    """A broad screen has the tag and the tally at its side, and more room for every string."""
    async with opened(size=(200, 60), has_yard=True) as stage:
        await in_hand(stage)
        stage.yard.shine(fakes.walking(stage.display, 36))
        await stage.until(lambda: stage.app.talk.arrivals is not None)
        await stage.look(5)
        stage.check("yard-200x60")


@pytest.mark.parametrize("size", SHEET_SIZES)
async def test_what_is_dimmed_for_its_current_is_told(opened: Open, size: tuple[int, int]):
    """Which port and by how much, on one line that is gone with its cause."""
    async with opened(size=size) as stage:
        await in_hand(stage)
        dimmed = Dimmed(name="jetty/1", asked_a=5.7, limit_a=4.0, percent=69.4)
        stage.engine.tell(dimmed=(dimmed,))
        await stage.until(lambda: "dimmed: jetty/1 to 69 %" in stage.text)
        stage.engine.tell(dimmed=())
        await stage.until(lambda: "dimmed" not in stage.text)


@pytest.mark.parametrize("size", SHEET_SIZES)
async def test_how_often_lights_may_flash_is_told_where_it_is_not_three_times(
    opened: Open, size: tuple[int, int]
):
    """Fewer as it is, more as a caution; nothing where it is as usual (WCAG 2.x, 2.3.1)."""
    async with opened(size=size) as stage:
        await in_hand(stage)
        assert "flashes" not in stage.text
        stage.engine.tell(flashes_per_s=1)
        await stage.until(lambda: "flashes: up to 1 a second, 3 is usual" in stage.text)
        stage.engine.tell(flashes_per_s=9)
        await stage.until(lambda: "CAUTION: flashes: up to 9 a second" in stage.text)


@pytest.mark.parametrize(
    ("size", "told"),
    [
        ((80, 24), ["dimmed: jetty/2 to 16 % (0.8 of 3.6 A), supply shed to 40 %"]),
        ((40, 24), ["dimmed (+1, i): jetty/2 to 16 %"]),
        ((200, 60), ["dimmed: jetty/2 to 16 %", "dimmed: supply shed to 40 %"]),
    ],
)
async def test_that_more_than_one_limit_dims_is_seen_at_every_width(
    opened: Open, size: tuple[int, int], told: list[str]
):
    """The strictest first; where there is no room, how many more and which key tells them."""
    async with opened(size=size) as stage:
        await in_hand(stage)
        fuse = Dimmed(name="jetty/2", asked_a=3.6, limit_a=0.8, percent=16)
        supply = Dimmed(name="shed", is_supply=True, asked_a=3.6, limit_a=1.6, percent=40)
        stage.engine.tell(dimmed=(fuse, supply))
        await stage.until(lambda: all(each in stage.text for each in told))


@pytest.mark.slow
async def test_no_size_breaks_it(opened: Open):
    """From 1x1 to 200x60, on the lane and on every sheet, with lights and words to show."""
    async with opened(has_yard=True) as stage:
        await in_hand(stage)
        stage.engine.say(
            Refused(request="x", why=Refusal.CANNOT_BE, reason="a reason that is long enough to be cut " * 5)
        )
        for key in ("", "p", "d", "a", "question_mark", "f", "e", "f2"):
            if key:
                await stage.pilot.press(key)
            for size in SHEET_STORM if key else STORM:
                await stage.pilot.resize_terminal(*size)
                stage.walk.look()
            if key:
                await stage.pilot.press("escape")
        await stage.until(lambda: "In hand" in stage.text)


def rows_of(text: str, name: str) -> list[str]:
    """Return the rows that speak of a port."""
    return [line for line in text.splitlines() if name in line]


async def test_a_lit_node_is_a_letter_and_a_dark_one_a_dot(opened: Open):
    """Each colour has its letter, so that nothing is told by colour alone."""
    colour = {
        "R": (76, 0, 0),
        "G": (0, 76, 0),
        "B": (0, 0, 76),
        "Y": (76, 76, 0),
        "C": (0, 76, 76),
        "M": (76, 0, 76),
        "W": (76, 76, 76),
    }
    assert set(colour) == set(COLOUR_NAMES)
    async with opened() as stage:
        await stage.start()
        for letter, levels in colour.items():
            stage.engine.shine(fakes.walking(stage.display, 9, levels), (0, 0, 0, 0))
            await stage.look()
            (row, *_) = rows_of(stage.text, "jetty/3")
            assert row.count(letter) == 1
            assert not any(other in row for other in set(colour) - {letter})
            assert "·" in row


async def test_a_lit_node_never_vanishes_in_a_narrow_row(opened: Open):
    """Wherever the lit node is, a row that shows several nodes a cell shows it."""
    async with opened(size=(40, 24)) as stage:
        await stage.start()
        for node in (0, 1, 41, 58, 59):
            stage.engine.shine(fakes.walking(stage.display, node), (0, 0, 0, 0))
            await stage.look()
            for name in ("jetty/1", "jetty/4", "roof/2"):
                assert "R" in rows_of(stage.text, name)[0], (node, name)


async def test_zoomed_in_the_row_follows_the_light(opened: Open):
    """One node a cell shows the page with the lit node on it."""
    async with opened() as stage:
        await stage.start()
        await stage.pilot.press("z")
        for node in (0, 70, 119):
            stage.engine.shine(fakes.walking(stage.display, node), (0, 0, 0, 0))
            await stage.look()
            assert "dot = 1 node" in stage.text
            assert "R" in rows_of(stage.text, "▸● jetty/1")[0], node


async def test_nothing_is_drawn_when_nothing_changes(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """Looking again at the same light asks for no redraw of the lane."""
    async with opened() as stage:
        await stage.start()
        stage.engine.shine(fakes.walking(stage.display, 3), (0, 0, 0, 0))
        await stage.look()
        drawn: list[object] = []
        monkeypatch.setattr(stage.app.lane, "refresh", lambda *regions, **_how: drawn.append(regions))
        await stage.look(5)
        assert drawn == []
        stage.engine.shine(fakes.walking(stage.display, 4), (0, 0, 0, 0))
        await stage.look()
        assert drawn
