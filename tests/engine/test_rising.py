"""When a look can be seen, by what the engine says of its frames (our own contract, no standard)."""

from typing import Any

import pytest

from streamer.engine.messages import Counts, Show, State, Status
from streamer.engine.rising import FRAMES_UP, Rising

WALK, LOOK = Show(pattern="walk"), Show(pattern="picture", params={"nodes": "12"})


def said(show: Show = LOOK, *, frames: int, held: int = 0, **others: Any) -> Status:
    """Return a status in the middle of a run."""
    facts = {"state": State.IN_HAND, "plan": 1, **others}
    return Status(show=show, counts=Counts(frames=frames, held=held), **facts)


def heard(rising: Rising, *statuses: Status) -> bool:
    """Return whether the look is up after these."""
    for status in statuses:
        rising.hear(status)
    return rising.is_up


def test_it_is_up_when_the_second_frame_has_left_since_the_engine_has_taken_it():
    """The first frame after the request may still be the picture before."""
    rising = Rising(LOOK, 0)
    assert not heard(rising, said(WALK, frames=100), said(frames=100), said(frames=101))
    assert heard(rising, said(frames=100 + FRAMES_UP))


def test_frames_that_the_flash_guard_held_back_do_not_count():
    """Until it lets the picture through, the lights show the one before."""
    rising = Rising(LOOK, 0)
    assert not heard(rising, said(frames=1), said(frames=9, held=8), said(frames=12, held=11))
    assert not heard(rising, said(frames=13, held=11))
    assert heard(rising, said(frames=14, held=11))


@pytest.mark.parametrize(
    "others",
    [{"state": State.DARK}, {"plan": 7}, {"step": 3}],
    ids=["dark", "another's slots", "a step before"],
)
def test_what_is_not_this_look_does_not_count(others: dict[str, Any]):
    """In the dark, on what was on before, or at another step, however many frames there are."""
    rising = Rising(LOOK, 0, plan_before=7)
    assert not heard(rising, *(said(frames=each, **others) for each in range(5)))
    assert heard(rising, said(frames=5), said(frames=5 + FRAMES_UP))


def test_what_was_seen_was_seen():
    """Whoever makes it dark after that may still answer."""
    assert heard(Rising(LOOK, 0), said(frames=0), said(frames=2), said(frames=3, state=State.DARK))
