"""Another source on a universe of ours. Source: ANSI E1.31-2018 clause 6.2.3; Art-Net 4, merging."""

from dataclasses import replace

import pytest

from streamer.display.model import Protocol
from streamer.hear.conflicts import Conflict, Ours, Winner, conflicts, sentences
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import Options
from tests.hear.bench import ADDRESS, A, B, Bench, data, terminated

OURS = Ours(
    str(A),
    frozenset({"10.61.0.1"}),
    {(Protocol.E131, 1): 100, (Protocol.E131, 2): 100, (Protocol.ARTNET, 19): 100},
)


def found_in(bench: Bench, ours: Ours = OURS) -> tuple[Conflict, ...]:
    """Return the conflicts of what a bench has heard."""
    return conflicts(ours, bench.table.heard([], bench.now))


@pytest.mark.parametrize(
    ("theirs", "winner"),
    [(99, Winner.OURS), (100, Winner.EITHER), (101, Winner.THEIRS), (200, Winner.THEIRS)],
)
def test_the_higher_priority_wins_and_a_tie_is_the_receivers_choice(theirs: int, winner: Winner):
    """6.2.3: only the sources of the highest priority count."""
    bench = Bench()
    bench.give(data(cid=A), data(cid=B, priority=theirs))
    (conflict,) = found_in(bench)
    assert (conflict.source.cid, conflict.source.address, conflict.winner) == (str(B), ADDRESS, winner)


def test_our_own_packets_come_back_without_being_a_conflict():
    """5.6: the CID is ours, whatever address it comes from; Art-Net has only the address."""
    bench = Bench()
    bench.give(data(cid=A))
    bench.give(data(cid=A), address="127.0.0.1")
    bench.give(ArtDmx(19, bytes(4)), address="10.61.0.1")
    assert found_in(bench) == ()


@pytest.mark.parametrize("universe", [3, 4])
def test_other_universes_are_none_of_our_business(universe: int):
    """Nor is the same number of the other protocol."""
    bench = Bench()
    bench.give(data(cid=B, universe=universe))
    bench.give(ArtDmx(1, bytes(4)))
    assert found_in(bench) == ()


def test_a_source_that_has_gone_or_sends_previews_is_no_conflict():
    """6.2.6 and 6.7.1."""
    bench = Bench()
    bench.give(
        data(0, cid=B), terminated(data(1, cid=B)), data(universe=2, cid=B, options=Options.PREVIEW_DATA)
    )
    assert found_in(bench) == ()
    bench.give(data(2, cid=B))
    assert len(found_in(bench)) == 1
    bench.now += 2.5
    assert found_in(bench) == ()


def test_a_source_on_several_universes_is_told_once_with_all_that_must_be_known():
    """Who, from where, which priority, who wins, what to do."""
    bench = Bench()
    bench.give(data(cid=B, priority=120), data(cid=B, universe=2, priority=120))
    (sentence,) = sentences(found_in(bench))
    assert sentence == (
        "Another source sends universe 1 and 1 more of ours: 'Boathouse' at 10.61.0.2, priority 120; "
        "ours is 100. The other one wins, by E1.31: your lights show its levels, not yours. "
        "Stop the other source, or give your controllers a priority of 121 or more."
    )


def test_no_priority_above_the_highest_is_advised():
    """6.2.3: 200 is the highest."""
    bench = Bench()
    bench.give(data(cid=B, priority=200))
    (sentence,) = sentences(found_in(bench))
    assert "a priority of" not in sentence
    assert "no priority is higher" in sentence


def test_an_art_net_conflict_says_that_nodes_merge():
    """Art-Net 4: two sources are merged, or the node says there is an error; there is no priority."""
    bench = Bench()
    bench.give(ArtDmx(19, bytes(4)))
    (sentence,) = sentences(found_in(bench))
    assert sentence.startswith(
        "Another source sends Port-Address 19 (0:1:3): 10.61.0.2. Art-Net has no prior"
    )


def test_before_our_cid_is_known_every_source_is_another():
    """So whoever asks must know it first."""
    bench = Bench()
    bench.give(data(cid=A))
    assert len(found_in(bench, replace(OURS, cid=""))) == 1
