"""Before the lights are taken it is asked whether another run of this user is in the way."""

import pytest

from streamer.display.model import Protocol
from streamer.display.patch import StreamKey
from streamer.engine import rivals
from streamer.engine.crossing import Place
from streamer.engine.messages import Play
from tests.tui.stage import Open, Stage

OTHER = "send-4711"


@pytest.fixture(autouse=True)
def _other(monkeypatch: pytest.MonkeyPatch) -> None:
    """Have another run that sends universe 1 to the same controller, beside this screen's own engine."""
    key = StreamKey(Protocol.E131, "127.0.0.1", 1)
    monkeypatch.setattr(rivals, "running_engines", lambda: ("screen", OTHER))
    monkeypatch.setattr(rivals, "_sent_by", lambda _name: [Place(key)])


async def warned(stage: Stage) -> None:
    """Wait for the warning."""
    await stage.until(lambda: f"ropewalk stop {OTHER}" in stage.text)
    assert f"{OTHER} already sends universe 1 there" in " ".join(stage.text.split())


@pytest.mark.parametrize("keys", [("enter",), ("w", "enter"), ("g",)])
async def test_nothing_is_sent_beside_another_run_unless_that_is_wanted(opened: Open, keys: tuple[str, ...]):
    """Starting, searching and proving ask; Esc sends nothing (ANSI E1.31-2018 clause 6.2.3)."""
    async with opened() as stage:
        await stage.pilot.press(*keys)
        await warned(stage)
        await stage.pilot.press("escape")
        await stage.until(lambda: len(stage.app.screen_stack) == 1)
        assert not [each for each in stage.engine.asked if isinstance(each, Play)]


async def test_whoever_wants_to_may(opened: Open):
    """Enter sends all the same; asked once about each run."""
    async with opened() as stage:
        await stage.pilot.press("enter")
        await warned(stage)
        await stage.pilot.press("enter")
        await stage.until(lambda: any(isinstance(each, Play) for each in stage.engine.asked))
