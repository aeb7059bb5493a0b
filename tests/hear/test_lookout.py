"""Looking out for other sources of what we send: what is told, when, and what becomes of the listener."""

from collections.abc import Callable, Iterator
from uuid import UUID

import pytest

from streamer.display.model import Protocol
from streamer.display.patch import Stream, compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.hear.episodes import EPISODES_MAX, Episodes
from streamer.hear.keeper import AGAIN_S, SILENT_S, SOON_S
from streamer.hear.lookout import Lookout
from streamer.hear.messages import Close, Discover, Ignore, Listen, Watch
from tests.hear.bench import A, B, Bench, Given, data
from tests.hear.fakes import Starter
from tests.hear.test_conflicts import found_in

TURNS = 2_000


class Yard:
    """A lookout under a fake clock, with everything around it."""

    def __init__(self) -> None:
        self.bench = Bench()
        self.starter = Starter()
        self.lookout = Lookout("a test", "beside-1", self.starter)

    def sends(self, *universes: int, to: str = "multicast", protocol: Protocol = Protocol.E131) -> None:
        """Send these universes."""
        self.lookout.send(streams(*universes, to=to, protocol=protocol), None)

    def until(self, is_so: Callable[[], object]) -> list[str]:
        """Look until something is so, the thread that starts listeners having its own time."""
        told: list[str] = []
        for _ in range(TURNS):
            told += self.lookout.look(self.bench.now)
            if is_so():
                return told
            if self.lookout._keeper._coming is not None:
                self.lookout._keeper._coming.exception()
        raise AssertionError("it did not come to be so")

    @property
    def is_heard(self) -> bool:
        """Whether a listener is up."""
        return self.lookout._keeper.is_there

    def hears(self, *packets: Given) -> tuple[str, ...]:
        """Let the listener tell what the bench has heard."""
        if packets:
            self.bench.give(*packets)
        self.starter.listener.says.append(self.bench.table.heard([], self.bench.now))
        return self.lookout.look(self.bench.now)


def streams(*universes: int, to: str = "multicast", protocol: Protocol = Protocol.E131) -> tuple[Stream, ...]:
    """Return what a display of these universes is sent by."""
    return compile_patch(display_from_ranges(universes, protocol, (to,))).streams


@pytest.fixture(name="yard")
def _yard() -> Iterator[Yard]:
    yard = Yard()
    yield yard
    yard.lookout.close()


@pytest.fixture(name="heard")
def _heard(yard: Yard) -> Yard:
    """Return a yard that sends universes 1 and 2 as A, with a listener."""
    yard.sends(1, 2)
    yard.lookout.know(str(A))
    yard.until(lambda: yard.is_heard)
    return yard


def test_another_source_is_told_once_lasts_and_is_over(heard: Yard):
    """Since when and until when, on the caller's clock."""
    (sentence,) = heard.hears(data(cid=B, priority=120))
    assert sentence.startswith("Another source sends universe 1: 'Boathouse' at 10.61.0.2, priority 120")
    (brief,) = heard.lookout.briefs
    assert brief == (
        "'Boathouse' at 10.61.0.2 also sends universe 1, at priority 120, over your 100: it wins. "
        "Stop it, or send at 121 or more."
    )
    heard.bench.now += 1
    assert heard.hears(data(1, cid=B, priority=120)) == ()
    heard.bench.now += 3
    assert heard.hears() == ("'Boathouse' at 10.61.0.2 no longer sends universe 1, after 4 s.",)
    (episode,) = heard.lookout.episodes
    assert (episode.since_s, episode.until_s) == (1000.0, 1004.0)
    assert heard.lookout.briefs == ()
    told = episode.as_dict(began_s=990.0)
    assert (told["universe"], told["winner"], told["since_s"], told["until_s"]) == (1, "theirs", 10.0, 14.0)


def test_a_new_listener_that_has_not_heard_a_slow_source_yet_ends_nothing(heard: Yard):
    """ANSI E1.31-2018 clause 6.7.1: only after 2.5 s of silence is it gone."""
    heard.bench.now += 10
    heard.hears(data(cid=B, priority=120))
    (before,) = heard.lookout.briefs
    heard.bench = Bench()
    heard.lookout.show({Protocol.E131: (1,)})
    heard.until(lambda: heard.is_heard)
    heard.bench.now += 1
    assert heard.hears() == ()
    heard.bench.now += 1
    assert heard.hears(data(7, cid=B, priority=120)) == ()
    assert heard.lookout.briefs == (before,)
    heard.bench.now += 2.5
    (sentence,) = heard.hears()
    assert "no longer sends universe 1" in sentence


def test_a_change_of_who_wins_is_told_and_nobody_has_gone(heard: Yard):
    """6.2.3: from a tie to a loss."""
    heard.hears(data(cid=B))
    (sentence,) = heard.hears(data(1, cid=B, priority=150))
    assert "The other one wins" in sentence
    assert [each.conflict.winner for each in heard.lookout.episodes] == ["either", "theirs"]


def test_our_own_packets_are_passed_over_unless_all_are_wanted(heard: Yard):
    """By their CID, in the kernel; the screen that shows everything wants them too."""
    assert Ignore(cid=A) in heard.starter.listener.asked
    assert Listen(universes=(1, 2)) in heard.starter.listener.asked
    heard.lookout.show({Protocol.E131: (7,)}, discover=True)
    heard.lookout.watch(Watch(universe=7, slot=3))
    heard.until(lambda: len(heard.starter.started) == 2)
    heard.until(lambda: heard.is_heard)
    wish, listener = heard.starter.started[-1]
    assert set(wish.protocols) == set(Protocol)
    assert Listen(universes=(1, 2, 7)) in listener.asked
    assert listener.asked[-3:] == [Ignore(cid=None), Discover(on=True), Watch(universe=7, slot=3)]
    heard.lookout.show(None)
    assert heard.starter.listener is listener
    assert listener.asked[-3:] == [Ignore(cid=A), Discover(on=False), Watch(universe=7, slot=3)]


def test_only_the_ports_that_are_needed_are_listened_to(yard: Yard):
    """Another program may want the other one for itself."""
    yard.sends(3, protocol=Protocol.ARTNET, to="10.61.0.9")
    yard.lookout.know(str(A))
    yard.until(lambda: yard.is_heard)
    assert yard.starter.started[0][0].protocols == (Protocol.ARTNET,)


@pytest.mark.parametrize("to", ["127.0.0.1", "::1"])
def test_what_stays_on_this_machine_needs_no_listener(yard: Yard, to: str):
    """A rehearsal starts no process beside."""
    yard.sends(1, to=to)
    yard.lookout.know(str(A))
    yard.lookout.look(yard.bench.now)
    assert yard.starter.started == []


def test_a_listener_that_cannot_be_had_is_told_once_and_tried_again(yard: Yard):
    """What is sent goes on meanwhile."""
    yard.starter.refusal = "port 5568: held by process 7."
    yard.sends(1)
    yard.lookout.know(str(A))
    told = yard.until(lambda: bool(yard.lookout.trouble))
    assert told == ["Other sources are not listened for. port 5568: held by process 7."]
    yard.bench.now += AGAIN_S
    yard.until(lambda: yard.lookout._keeper._again_s > yard.bench.now)
    yard.starter.refusal = ""
    yard.bench.now += AGAIN_S
    assert yard.until(lambda: yard.is_heard) == ["Other sources are listened for again."]
    assert yard.lookout.trouble == ""


@pytest.mark.parametrize("how", ["killed", "silent"])
def test_a_listener_that_has_gone_is_told_and_its_conflicts_are_over(heard: Yard, how: str):
    """Killed, or stopped: nothing is said about what nobody hears."""
    heard.hears(data(cid=B))
    heard.starter.listener.is_open = how != "killed"
    heard.bench.now += SILENT_S
    told = heard.lookout.look(heard.bench.now)
    assert told[-1] == "The listener has gone: other sources are not listened for just now."
    assert heard.lookout.briefs == ()
    heard.bench.now += SOON_S
    heard.until(lambda: len(heard.starter.started) == 2)


def test_closing_ends_the_listener(heard: Yard):
    """At once, and the one that is still coming up when it has come."""
    listener = heard.starter.listener
    heard.lookout.close()
    assert listener.asked[-1] == Close()
    assert not listener.is_open


def test_episodes_are_bounded():
    """However often one comes and goes."""
    bench, episodes = Bench(), Episodes()
    bench.give(data(cid=B))
    found = found_in(bench)
    for now in range(EPISODES_MAX + 10):
        episodes.note(found, float(now))
        episodes.note((), now + 0.5)
    assert len(episodes.all()) == EPISODES_MAX
    assert episodes.forgotten == 10


def test_the_cid_may_change_with_the_engine(heard: Yard):
    """Then what carried the old one is another source."""
    heard.hears(data(cid=A))
    assert heard.lookout.episodes == ()
    heard.lookout.know(str(UUID(int=9)))
    assert len(heard.hears(data(1, cid=A))) == 1
