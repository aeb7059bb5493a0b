"""What the watch for other sources finds, from what a listener tells; no socket, no process."""

from collections.abc import Callable, Iterator

import pytest

from streamer.display.model import Protocol
from streamer.display.patch import compile_patch
from streamer.display.ranges import display_from_ranges
from streamer.hear.keeper import AGAIN_S
from streamer.soak.records import EventKind, Severity
from streamer.soak.watches.others import OthersWatch
from tests.hear.bench import A, B, Bench, Given, data
from tests.hear.fakes import Starter

TURNS = 2_000


class Yard:
    """The watch of a run that sends universe 1 as A, under a fake clock."""

    def __init__(self) -> None:
        self.bench, self.starter = Bench(), Starter()
        self.now_s, self.made = 0.0, 0
        streams = compile_patch(display_from_ranges((1,), Protocol.E131, ("multicast",))).streams
        self.watch = OthersWatch(streams, None, lambda: str(A), lambda: self.made, self.starter)

    def until(self, is_so: Callable[[], object]) -> None:
        """Look until something is so, the thread that starts listeners having its own time."""
        for _ in range(TURNS):
            self.watch.look(self.now_s)
            if is_so():
                return
            if (coming := self.watch._lookout._keeper._coming) is not None:
                coming.exception()
        raise AssertionError("it did not come to be so")

    def hear(self, *packets: Given) -> None:
        """Let the listener tell what the bench has heard, a second later."""
        self.now_s += 1
        if packets:
            self.bench.give(*packets)
        self.starter.listener.says.append(self.bench.table.heard([], self.bench.now))
        self.watch.look(self.now_s)

    @property
    def is_heard(self) -> bool:
        """Whether a listener is up."""
        return self.watch._lookout._keeper.is_there


@pytest.fixture(name="yard")
def _yard() -> Iterator[Yard]:
    yard = Yard()
    yield yard
    yard.watch.close()


@pytest.mark.parametrize(
    ("priority", "severity"), [(120, Severity.FAILURE), (100, Severity.FAILURE), (50, Severity.REMARK)]
)
def test_another_source_is_a_failure_unless_ours_wins(yard: Yard, priority: int, severity: Severity):
    """ANSI E1.31-2018 clause 6.2.3: only the highest priority counts; of equals, what the receiver likes."""
    yard.until(lambda: yard.is_heard)
    yard.hear(data(cid=B, priority=priority))
    (finding,) = yard.watch.findings()
    assert (finding.kind, finding.severity) == (EventKind.OTHER_SOURCE, severity)
    assert finding.subject == "'Boathouse' at 10.61.0.2"
    assert "universe 1" in finding.words


def test_our_own_packets_are_no_finding(yard: Yard):
    """By their CID."""
    yard.until(lambda: yard.is_heard)
    yard.hear(data(cid=A))
    assert yard.watch.findings() == []


def test_an_interface_made_anew_has_another_listener(yard: Yard):
    """Memberships went with the old one, without a word."""
    yard.until(lambda: yard.is_heard)
    yard.made = 1
    yard.until(lambda: len(yard.starter.started) == 2 and yard.is_heard)


def test_that_nobody_listens_is_a_remark_and_tried_again(yard: Yard):
    """Another program holds the port, say."""
    yard.starter.refusal = "port 5568: held by process 7."
    yard.until(yard.watch.findings)
    (finding,) = yard.watch.findings()
    assert (finding.kind, finding.severity) == (EventKind.NOTE, Severity.REMARK)
    assert finding.words == "Other sources are not listened for. port 5568: held by process 7"
    yard.starter.refusal = ""
    for _ in range(int(AGAIN_S) + 1):
        yard.now_s += 1
        yard.watch.look(yard.now_s)
    yard.until(lambda: yard.is_heard)
    assert yard.watch.findings() == []


def test_a_listener_that_was_held_with_the_run_is_not_taken_for_gone(yard: Yard):
    """The machine slept for an hour."""
    yard.until(lambda: yard.is_heard)
    yard.hear()
    yard.now_s += 3600
    yard.watch.look(yard.now_s)
    assert yard.watch.findings() == []
    assert yard.is_heard
