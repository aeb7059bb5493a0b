"""The doctor on its sheet: each check as it is made, the verdict first, at every size."""

from collections.abc import Callable, Iterator
from threading import Event

import pytest

from streamer.doctor.checks import Check, Link, State
from streamer.engine.messages import Setup
from streamer.errors import NetworkError
from tests.tui.sizes import SIZES
from tests.tui.stage import Open, Stage

WELL = Check(Link.INTERFACE, "shed0", State.WELL, "this machine's interfaces", "up, 10.61.0.1/24")
BROKEN = Check(
    Link.WAY,
    "jetty (192.168.7.50)",
    State.BROKEN,
    "this machine's addresses and routes",
    "this machine has no way to that network: shed0 has 10.61.0.1/24",
    "Give this machine an address beside the controller's, such as 192.168.7.1/24",
)
RESTS = Check(
    Link.ANSWER,
    "jetty (192.168.7.50)",
    State.NOT_LOOKED_AT,
    "nothing",
    "it rests on the way: jetty (192.168.7.50)",
    "Mend that first",
)
LIMIT_S = 10


class Patient:
    """Stands for the network: gives the checks, and waits before the last one while told to."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *checks: Check) -> None:
        self.may_end = Event()
        self.was_over = Event()
        self.setups: list[Setup] = []
        self.checks = checks
        monkeypatch.setattr("tui.doctoring.checks", self._look)

    def _look(self, setup: Setup, _cid: str, is_over: Callable[[], bool]) -> Iterator[Check]:
        self.setups.append(setup)
        yield from self.checks[:-1]
        while not self.may_end.wait(0.01):
            if is_over():
                self.was_over.set()
                return
        yield self.checks[-1]


async def whole(stage: Stage) -> None:
    """Wait for the verdict."""
    await stage.app.workers.wait_for_complete()
    await stage.until(lambda: "Looking;" not in stage.text)


@pytest.mark.parametrize("size", SIZES)
async def test_the_first_broken_link_stands_first(
    opened: Open, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]
):
    """With what to do, at every size."""
    patient = Patient(monkeypatch, WELL, BROKEN, RESTS)
    patient.may_end.set()
    async with opened(size=size) as stage:
        await stage.pilot.press("x")
        await whole(stage)
        stage.check(f"doctor-{size[0]}x{size[1]}")


async def test_checks_are_shown_as_they_are_made_and_enter_looks_again(
    opened: Open, monkeypatch: pytest.MonkeyPatch
):
    """Before the last one has come the first is there; nothing is asked of the engine."""
    patient = Patient(monkeypatch, WELL, BROKEN)
    async with opened() as stage:
        await stage.pilot.press("x")
        await stage.until(lambda: "interface shed0" in stage.text)
        assert "Looking;" in stage.text
        assert "jetty (192.168.7.50)" not in stage.text
        patient.may_end.set()
        await whole(stage)
        assert "1 broken, 1 well." in stage.text
        await stage.pilot.press("enter")
        await stage.until(lambda: len(patient.setups) == 2)
        await whole(stage)
        assert stage.text.count("interface shed0") == 1
        assert stage.engine.asked == []


async def test_leaving_it_ends_the_looking(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """At once, and nothing comes of it."""
    patient = Patient(monkeypatch, WELL, BROKEN)
    async with opened() as stage:
        await stage.pilot.press("x")
        await stage.until(lambda: "interface shed0" in stage.text)
        await stage.pilot.press("escape")
        assert patient.was_over.wait(LIMIT_S)
        await stage.until(lambda: len(stage.app.screen_stack) == 1)


async def test_what_the_system_refuses_is_told(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """In place of the verdict."""

    def refuse(*_: object) -> Iterator[Check]:
        yield WELL
        raise NetworkError("it was refused", "the socket", "Start again")

    monkeypatch.setattr("tui.doctoring.checks", refuse)
    async with opened() as stage:
        await stage.pilot.press("x")
        await whole(stage)
        assert "the socket: it was refused. Start again" in stage.text


async def test_names_from_a_file_steer_nothing(opened: Open, monkeypatch: pytest.MonkeyPatch):
    """Markup and escape sequences are plain text."""
    odd = Check(Link.WAY, "[b]x\x1b[2J", State.BROKEN, "[i]", "[u]y", "[s]z")
    patient = Patient(monkeypatch, odd)
    patient.may_end.set()
    async with opened() as stage:
        await stage.pilot.press("x")
        await whole(stage)
        assert "way to [b]x\N{REPLACEMENT CHARACTER}[2J" in stage.text
        assert "[s]z" in stage.text
