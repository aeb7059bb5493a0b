"""The closed loop on real UDP: the engine's own process sends, the yard's sockets hear, the robot looks."""

import pytest

from streamer.find.kinds import Kind
from streamer.find.terms import CERTAINTY
from tests.cli.conftest import ADDRESS
from tests.find.many_searches import searches_over_udp

pytestmark = pytest.mark.usefixtures("own_folders")
DISPLAYS, PER_DISPLAY = 200, 10


@pytest.mark.rig
def test_drawn_faults_are_named_over_real_packets():
    """Of a few draws on two displays none is taken for another, and each lawn heard its own engine."""
    found = searches_over_udp(displays=2, draws=2, seed=2, address=ADDRESS)
    assert len(found.verdicts) == 4
    assert not found.failures


@pytest.mark.long
def test_of_two_thousand_draws_over_real_packets_99_in_100_are_named():
    """Position exact; looks for breaks and counts within 1.6 times the information bound (Shannon 1948).

    The bound is log2(H) / log2(c): H hypotheses of every kind, c the six colours of a look's blocks.
    """
    found = searches_over_udp(displays=DISPLAYS, draws=PER_DISPLAY, seed=15, address=ADDRESS)
    print(f"\n{found.table()}\n{found.calibration()}")  # noqa: T201  the table is what is asked for
    assert len(found.verdicts) == DISPLAYS * PER_DISPLAY
    assert found.share_right >= 0.99, found.failures[:10]
    certain = [is_right for sure, is_right in found.verdicts if sure >= CERTAINTY]
    assert certain.count(False) <= (1 - CERTAINTY) * len(certain)
    for kind in (Kind.BREAK, Kind.FEWER, Kind.MORE):
        tally = found.kinds[kind]
        assert tally.looks <= 1.6 * tally.bound, kind
