"""Waiting for one report among others: none of them is lost."""

import socket
from collections.abc import Iterator

import pytest

from streamer.engine.client import EngineLink
from streamer.engine.messages import REPORTS, Ended, Plan, Refusal, Refused, Report, State, Status
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError
from streamer.link.channel import Channel
from tests.soak.fakes import SETUP

PLAN = Plan(number=1, setup=SETUP, frame_path="", cid="0" * 32)
STATUS, LATER = (Status(state=State.RUNNING, route=each) for each in ("shed0", "lawn0"))
SOON_S = 0.01


@pytest.fixture(name="ends")
def _ends() -> Iterator[tuple[EngineLink, Channel[Report]]]:
    here, there = socket.socketpair()
    link, engine = Channel(here, REPORTS), Channel(there, REPORTS)
    yield link, engine
    link.close()
    engine.close()


def test_what_came_in_the_same_batch_is_there_for_the_next_who_asks(ends: tuple[EngineLink, Channel[Report]]):
    """Before what was waited for as well as after it, in the order in which it came."""
    link, engine = ends
    for report in (STATUS, PLAN, LATER):
        engine.send(report)
    assert wait_for(link, Plan) == PLAN
    assert wait_for(link, Status) == STATUS
    assert reports(link, SOON_S) == [LATER]
    assert reports(link, SOON_S) == []


def test_nothing_is_lost_by_a_refusal_or_by_waiting_in_vain(ends: tuple[EngineLink, Channel[Report]]):
    """The refusal is told and taken; all else stays."""
    link, engine = ends
    for report in (STATUS, Refused(request="change", why=Refusal.CANNOT_BE, reason="no such pattern"), LATER):
        engine.send(report)
    with pytest.raises(LinkError, match="no such pattern"):
        wait_for(link, Ended)
    with pytest.raises(LinkError, match="did not answer within"):
        wait_for(link, Ended, SOON_S)
    engine.close()
    assert wait_for(link, Status) == STATUS
    assert wait_for(link, Status) == LATER
    with pytest.raises(LinkError, match="has gone"):
        wait_for(link, Status)
