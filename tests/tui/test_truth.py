"""What the screen may never claim: that it sends what is refused, or lights or darkens what it cannot."""

from streamer.engine.messages import Counts, Jump
from tests.tui.stage import Open, Stage


def jumps(stage: Stage) -> list[Jump]:
    """Return the jumps that were asked for."""
    return [each for each in stage.engine.asked if isinstance(each, Jump)]


async def test_while_every_packet_is_refused_it_says_that_nothing_gets_out(opened: Open):
    """A person on the ladder must not blame the string for a cable at the player."""
    async with opened() as stage:
        await stage.start()
        stage.engine.tell(counts=Counts(packets=10))
        stage.engine.tell(counts=Counts(packets=10, errors={"ENETUNREACH": 30}))
        await stage.until(lambda: "Running, but nothing gets out: walk" in stage.text)
        stage.engine.tell(counts=Counts(packets=14, errors={"ENETUNREACH": 30}))
        await stage.until(lambda: "Running: walk" in stage.text)


async def test_a_number_that_is_not_there_lights_nothing_else(opened: Open):
    """Typed with gloves on: it is said, and the light stays where it is."""
    async with opened() as stage:
        await stage.start()
        steps = stage.app.talk.status.steps
        for wrong in ("0", "99999"):
            await stage.pilot.press(*wrong, "enter")
            await stage.until_read(f"There is no {int(wrong)}: it goes from 1 to {steps}.")
        assert jumps(stage) == []


async def test_without_an_engine_the_dark_key_promises_nothing(opened: Open):
    """It cannot darken anything then; what to do is told in full."""
    async with opened(size=(40, 24)) as stage:
        await stage.start()
        stage.engine.vanish()
        await stage.until(lambda: "GONE" in stage.text)
        assert "DARK" not in stage.text
        assert "take their power away" in " ".join(stage.text.split())
