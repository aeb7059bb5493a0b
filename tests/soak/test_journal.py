"""What a night run writes, and what is left of it whatever happens."""

import itertools
import random
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from streamer.errors import JournalError, JournalFullError
from streamer.soak.journal import Journal, reading
from streamer.soak.pen import RunPen
from streamer.soak.records import Ended, EndReason, EventKind, Sample, Severity
from streamer.soak.schema import KIND
from tests.soak.conftest import TEN_IN_THE_EVENING, Clocks, event, facts, sample

NIGHT_HOURS = 12
EACH_S = 5
MOST_OCTETS = 20_000_000
UNIVERSES, CONTROLLERS, SUPPLIES = 100, 25, 34
"""A hundred universes of 170 nodes at 60 mA draw 1,020 A in full white: 34 supplies of 60 A, used to half."""


def size_of(path: Path) -> int:
    """Return what the file and what SQLite keeps beside it take."""
    return sum(each.stat().st_size for each in path.parent.glob(f"{path.name}*"))


def test_what_was_written_is_read_again(path: Path, clocks: Clocks):
    """A run with samples and events, open and over, to its end."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        samples, events = [], []
        for turn in range(3):
            clocks.go(5)
            at = pen.clock.moment(*clocks.now)
            samples.append(sample(at, seed=turn / 10))
            pen.sample(samples[-1])
            events.append(event(EventKind.STEP, at, words="jetty \ud800 'x'", severity=Severity.NOTICE))
            pen.note(events[-1])
        clocks.go(5)
        end = pen.clock.moment(*clocks.now)
        pen.end(Ended(end, EndReason.TIME_UP))
    with reading(path) as reader:
        (run,) = reader.runs()
        kept = list(reader.samples(run.number))
        told = reader.events(run.number)
    assert run.facts == facts()
    assert run.ended == Ended(end, EndReason.TIME_UP)
    assert run.last_at == end
    assert [each.at for each in kept] == [each.at for each in samples]
    assert kept[0].at.run_s == 5
    assert [each.controllers[1].round_trip_ms for each in kept] == [0.25, 0.35, 0.45]
    assert [each.amps for each in kept] == [
        {"boathouse": 11.5, "jetty": 3.25},
        {"boathouse": 11.6, "jetty": 3.283},
        {"boathouse": 11.7, "jetty": 3.317},
    ]
    assert [each.words for each in told] == ["jetty ? 'x'"] * 3
    # A step that begins ends the step before; the end of the run ends the last.
    assert [each.length_s for each in told] == [5, 5, 5]


def test_the_file_is_one_that_loses_nothing_to_a_loss_of_power(path: Path, clocks: Clocks):
    """WAL and synchronous=FULL: https://www.sqlite.org/pragma.html#pragma_synchronous, where FULL is 2."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        assert pen._connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert pen._connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_what_waits_beside_the_file_to_be_put_into_it_stays_small(path: Path, clocks: Clocks):
    """From 64 pages of 4 KiB on, not SQLite's 1,000: sqlite.org/pragma.html#pragma_wal_autocheckpoint."""
    log = path.with_name(f"{path.name}-wal")
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        most = 0
        for _ in range(500):
            clocks.go(5)
            pen.sample(sample(pen.clock.moment(*clocks.now)))
            most = max(most, log.stat().st_size)
        in_the_file = path.stat().st_size
    assert most < 64 * 4_096 * 1.2
    assert in_the_file > 0.8 * path.stat().st_size


@pytest.mark.parametrize(
    "hours", [1, pytest.param(3, marks=pytest.mark.slow), pytest.param(NIGHT_HOURS, marks=pytest.mark.long)]
)
def test_a_night_at_a_hundred_universes_is_under_20_mb(path: Path, clocks: Clocks, hours: int):
    """Of twelve hours; a sample in five seconds, 25 controllers, 34 supplies, an event a minute."""
    draw = random.Random(7)  # noqa: S311  a repeatable draw is the purpose
    names = tuple(f"controller {number}" for number in range(CONTROLLERS))
    supplies = tuple(f"controller {number} left" for number in range(SUPPLIES))
    with Journal(path) as journal:
        pen = journal.begin(facts(UNIVERSES, names), *clocks.now)
        # The settings are another test's: a night's worth of waits for the disk proves nothing about octets.
        pen._connection.execute("PRAGMA synchronous = OFF")
        for turn in range(hours * 3_600 // EACH_S):
            clocks.go(EACH_S)
            at = pen.clock.moment(*clocks.now)
            amps = {name: 40 * draw.random() for name in supplies}
            pen.sample(replace(sample(at, names, seed=draw.random()), amps=amps))
            if turn % 12 == 0:
                pen.note(event(EventKind.STEP, at, words="full level", severity=Severity.NOTICE))
        open_octets = size_of(path)
    beside = open_octets - size_of(path)
    assert size_of(path) * NIGHT_HOURS / hours + beside < MOST_OCTETS
    print(f"{size_of(path):,} octets, {open_octets:,} while it is written")  # noqa: T201  the result
    with reading(path) as reader:
        assert sum(1 for _ in reader.samples(1)) == hours * 3_600 // EACH_S
        assert len(reader.events(1)) == hours * 60


def test_a_run_that_was_broken_off_goes_on_with_the_gap_said(path: Path, clocks: Clocks):
    """After ten minutes and a new start of the machine, whose clock then begins anew."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(5)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
        pen.note(event(EventKind.CONTROLLER_GONE, pen.clock.moment(*clocks.now), "jetty"))
    clocks.go(600)
    clocks.monotonic_s = 12
    with Journal(path) as journal:
        again = journal.resume(*clocks.now)
        assert again is not None
        assert again.facts == facts()
        assert again.gap is not None
        assert (again.gap.kind, again.gap.length_s) == (EventKind.JOURNAL_GAP, 600)
        clocks.go(5)
        again.sample(sample(again.clock.moment(*clocks.now)))
    with reading(path) as reader:
        (run,) = reader.runs()
        assert [each.at.run_s for each in reader.samples(1)] == [5, 610]
        gone, gap = reader.events(1)
    assert gone.length_s == 0
    assert gap == again.gap
    assert run.ended is None
    assert run.last_at.run_s == 610


@pytest.mark.parametrize("kills", [1, 2])
def test_what_a_person_had_made_dark_is_open_anew_however_often_it_is_broken_off(
    path: Path, clocks: Clocks, kills: int
):
    """Also where it is broken off again before anything was written; all else that was open is over."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(5)
        for kind in (EventKind.CONTROLLER_GONE, EventKind.DARKENED):
            pen.note(event(kind, pen.clock.moment(*clocks.now), "screen, process 12"))
    for _ in range(kills):
        clocks.go(600)
        with Journal(path) as journal:
            again = journal.resume(*clocks.now)
            assert again is not None
            (dark,) = again.open_events
    assert (dark.kind, dark.subject) == (EventKind.DARKENED, "screen, process 12")
    assert dark.began_at.run_s == 5 + 600 * kills
    with reading(path) as reader:
        assert [each for each in reader.events(1) if each.ended_at is None] == [dark]


def test_what_was_lit_again_before_it_was_broken_off_is_not_dark(path: Path, clocks: Clocks):
    """A person's last word counts."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.note(event(EventKind.DARKENED, pen.clock.moment(*clocks.now), "screen, process 12"))
        clocks.go(5)
        pen.close(EventKind.DARKENED, "screen, process 12", pen.clock.moment(*clocks.now))
        again = journal.resume(*clocks.now)
    assert again is not None
    assert again.open_events == ()


def test_reading_leaves_nothing_beside_a_file_that_is_at_rest(path: Path, clocks: Clocks):
    """What SQLite makes to read a log would belong to the reader, and stop another user's service."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.TIME_UP))
    with reading(path) as reader:
        assert len(reader.runs()) == 1
        assert list(path.parent.iterdir()) == [path]
    assert list(path.parent.iterdir()) == [path]


def test_only_a_run_that_has_not_ended_is_resumed(path: Path, clocks: Clocks):
    """And of several runs the last."""
    with Journal(path) as journal:
        assert journal.resume(*clocks.now) is None
        journal.begin(facts(), *clocks.now)
        pen = journal.begin(facts(), *clocks.now)
        assert pen.number == 2
        resumed = journal.resume(*clocks.now)
        assert resumed is not None
        assert resumed.number == 2
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.STOPPED))
        assert journal.resume(*clocks.now) is None


def write_until_full(pen: RunPen, clocks: Clocks) -> int:
    """Write samples until one is refused; return how many were taken."""
    for turn in itertools.count():
        clocks.go(EACH_S)
        try:
            pen.sample(sample(pen.clock.moment(*clocks.now)))
        except JournalFullError:
            return turn
    raise AssertionError


def test_a_full_disk_is_told_and_the_hole_is_written_when_there_is_room(path: Path, clocks: Clocks):
    """SQLite is kept from taking another page; what was kept is readable meanwhile, and no event is lost."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        (pages,) = pen._connection.execute("PRAGMA page_count").fetchone()
        pen._connection.execute(f"PRAGMA max_page_count = {pages}")
        kept = write_until_full(pen, clocks)
        full_at = pen.clock.moment(*clocks.now)
        words = r"the disk is full\. Nothing written before is lost\. Make room"
        for name in ("jetty", "boathouse"):
            gone = event(EventKind.CONTROLLER_GONE, full_at, name, words="x" * 5_000)
            with pytest.raises(JournalFullError, match=words):
                pen.note(gone)
        clocks.go(50)
        with pytest.raises(JournalFullError):
            pen.close(EventKind.CONTROLLER_GONE, "jetty", pen.clock.moment(*clocks.now))
        with reading(path) as reader:
            assert sum(1 for _ in reader.samples(1)) == kept
        pen._connection.execute("PRAGMA max_page_count = 100000")
        clocks.go(5)
        pen.sample(sample(pen.clock.moment(*clocks.now)))
        pen.sample(sample(pen.clock.moment(*clocks.now)))
    with reading(path) as reader:
        assert sum(1 for _ in reader.samples(1)) == kept + 2
        hole, jetty, boathouse = reader.events(1)
    assert (hole.kind, hole.began_at, hole.length_s) == (EventKind.DISK_FULL, full_at, 55)
    assert hole.words == "the disk is full; 1 samples and 0 events were not kept"
    assert (jetty.subject, jetty.length_s) == ("jetty", 50)
    assert (boathouse.subject, boathouse.length_s) == ("boathouse", None)


def test_a_disk_that_stays_full_takes_no_more_than_a_bounded_memory(path: Path, clocks: Clocks):
    """A thousand events wait; of the others is said how many there were."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen._connection.execute("PRAGMA query_only = ON")
        for turn in range(1_100):
            clocks.go(1)
            with pytest.raises(JournalError, match="may not be written"):
                pen.note(
                    event(EventKind.STEP, at := pen.clock.moment(*clocks.now), ended_at=at, words=str(turn))
                )
        assert len(pen._waiting) == 1_000
        pen._connection.execute("PRAGMA query_only = OFF")
        pen.sample(sample(pen.clock.moment(*clocks.now)))
    with reading(path) as reader:
        told = reader.events(1)
    assert len(told) == 1_001
    (hole,) = (each for each in told if each.kind is EventKind.NOT_KEPT)
    assert hole.words == "the journal may not be written; 0 samples and 100 events were not kept"


def test_a_file_that_is_no_journal_is_told_with_what_to_do(path: Path):
    """Text, another database, a logbook of ours, a journal with octets changed."""
    path.write_text("dear diary\n" * 100)
    for do in (lambda: Journal(path), lambda: reading(path).__enter__()):
        with pytest.raises(
            JournalError, match=r"this is no journal. Nothing was changed. Move the file aside"
        ):
            do()
    path.unlink()
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE t (x)")
    other.close()
    with pytest.raises(JournalError, match="this is a database, but no journal"):
        Journal(path)


def test_a_damaged_journal_never_gives_a_traceback(path: Path, clocks: Clocks):
    """Whatever octets are changed: it reads, or says in words that it is damaged."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        for turn in range(40):
            clocks.go(5)
            pen.sample(sample(pen.clock.moment(*clocks.now), seed=turn / 40))
            pen.note(event(EventKind.STEP, pen.clock.moment(*clocks.now)))
    whole, draw, refused = path.read_bytes(), random.Random(3), 0  # noqa: S311
    for _ in range(300):
        octets = bytearray(whole)
        for _ in range(8):
            octets[draw.randrange(len(octets))] = draw.randrange(256)
        path.write_bytes(octets)
        try:
            with reading(path) as reader:
                for run in reader.runs():
                    reader.events(run.number)
                    list(reader.samples(run.number))
        except JournalError:
            refused += 1
    assert refused > 0


def test_a_newer_journal_is_left_alone(path: Path):
    """It is told, not guessed at."""
    Journal(path).close()
    with sqlite3.connect(path) as newer:
        newer.execute(f"PRAGMA user_version = {len(KIND.migrations) + 1}")
    newer.close()
    with pytest.raises(JournalError, match="written by a newer Ropewalk"):
        Journal(path)


def test_a_run_that_another_process_writes_is_not_resumed(path: Path, clocks: Clocks):
    """Process 1 lives always."""
    import psutil

    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen._connection.execute("UPDATE runs SET writer = ?", (f"1 {psutil.Process(1).create_time()}",))
        with pytest.raises(JournalError, match=r"a run of it goes on, in process 1\. Stop that one"):
            journal.resume(*clocks.now)


def test_while_another_process_writes_a_run_none_is_begun(path: Path, clocks: Clocks):
    """Begun by mistake, it would be the last one: the one that is reported in the morning, and resumed."""
    import psutil

    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        pen._connection.execute("UPDATE runs SET writer = ?", (f"1 {psutil.Process(1).create_time()}",))
        with pytest.raises(JournalError, match=r"a run of it goes on, in process 1\. Stop that one"):
            journal.begin(facts(), *clocks.now)
        pen.end(Ended(pen.clock.moment(*clocks.now), EndReason.TIME_UP))
        assert journal.begin(facts(), *clocks.now).number == 2


def test_reading_where_there_is_none_makes_none(path: Path):
    """No runs, no file."""
    with reading(path) as reader:
        assert [*reader.runs(), *reader.events(1)] == []
        assert list(reader.samples(1)) == []
    assert not path.exists()


def test_a_clock_set_back_shortens_nothing(path: Path, clocks: Clocks):
    """The time of the run comes from the clock that is never set."""
    with Journal(path) as journal:
        pen = journal.begin(facts(), *clocks.now)
        clocks.go(5)
        clocks.unix_s -= 3_600
        at = pen.clock.moment(*clocks.now)
        assert at.run_s == 5
        assert at.unix_s == TEN_IN_THE_EVENING - 3_595
        pen.sample(Sample(at))
        clocks.unix_s -= 3_600
        again = journal.resume(*clocks.now)
        assert again is not None
        assert again.clock.moment(*clocks.now).run_s == 5
