"""What `ropewalk soak` does with what was asked: one run, begun or taken up."""

import hashlib
import re
from collections.abc import Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

from streamer.cli.common import counted
from streamer.cli.night_telling import Telling
from streamer.cli.reporting import report_of
from streamer.cli.rivals import check_rivals
from streamer.engine.client import client_name, start
from streamer.engine.rivals import streams_of
from streamer.errors import JournalError
from streamer.hear.where import destinations_of
from streamer.net.destinations import is_loopback
from streamer.report.wording import verdict_line
from streamer.soak.asked import Asked, facts_of, show_of, watches_of
from streamer.soak.clocks import Clocks
from streamer.soak.durations import in_words
from streamer.soak.journal import Journal, journal_path, reading
from streamer.soak.night import Deadline, Night
from streamer.soak.pen import RunPen
from streamer.soak.programme import how_to_heat, not_heated, parse_programme
from streamer.soak.records import Ended, EndReason, EventKind, RunFacts, Severity
from streamer.soak.running import keep_running
from streamer.soak.signals import heeded_signals
from streamer.soak.watches.stream import Stream

ANY_PART = "level"
"""No pattern of a programme sends to universes that the plan has not."""
NAME_LETTERS_MOST = 30


def soak_through(asked: Asked, clocks: Clocks, *, resume: bool, anyway: bool) -> bool:
    """Run to the end, and say whether nothing that was found speaks against the display.

    NetworkError, PlanError, LinkError or JournalError when it cannot begin; RivalError for want of `anyway`.
    """
    name, sent = run_name(asked.file), streams_of(asked.display, ANY_PART)
    if not anyway:
        # One of this file's own is found when it is started.
        check_rivals(asked.setup, ANY_PART, name)
    with ExitStack() as stack:
        telling = Telling(clocks.steady_s)
        stack.callback(telling.close)
        heeded = stack.enter_context(heeded_signals())
        journal = stack.enter_context(Journal(journal_path(asked.file)))
        facts = facts_of(asked, sent, clocks)
        pen = _pen(journal, facts, clocks, resume=resume)
        stream = Stream(asked.setup, partial(start, name, client_name("ropewalk soak")), pen.darkened_by)
        night = Night(
            pen=pen,
            stream=stream,
            watches=watches_of(asked, sent, stream),
            programme=parse_programme(pen.facts.programme, "the journal"),
            show=show_of(pen.facts),
            deadline=Deadline(pen.facts.asked_s, pen.facts.is_by_the_wall),
            teller=telling,
        )
        stack.callback(night.close)
        for line in _summary(asked.file, pen, destinations_of(sent)):
            telling.line(line)
        _begin(night, pen, clocks)
        if pen.facts.fingerprint != facts.fingerprint:
            night.note(EventKind.NOTE, "the display file was changed since the run began", Severity.REMARK)
        keep_running(night, clocks, heeded, telling.hang_up, telling.moment)
        telling.line("Dark and ended.")
        telling.line(_verdict(asked.file, clocks))
        return night.failures == 0


def _verdict(file: Path, clocks: Clocks) -> str:
    """Return the report's first line, and how to read the rest of it."""
    whole = f"ropewalk report {file}"
    try:
        return f"{verdict_line(report_of(file, None, clocks.unix_s()))} The whole of it: {whole}"
    except JournalError as error:
        return f"{error}. What can be read of it: {whole}"


def to_be_taken_up(file: Path, now_unix_s: float) -> RunFacts | None:
    """Return what the run is that was broken off and whose time is not over; None where there is none.

    JournalError where that cannot be read.
    """
    with reading(journal_path(file)) as reader:
        runs = reader.runs()
    if not runs or runs[-1].ended is not None:
        return None
    run = runs[-1]
    passed_s = run.last_at.run_s + max(0.0, now_unix_s - run.last_at.unix_s)
    return run.facts if passed_s < run.facts.asked_s else None


def run_name(file: Path) -> str:
    """Return how the engine of a display file's night run is called: the same every night."""
    stem = re.sub(r"[^A-Za-z0-9_-]", "-", file.stem)[:NAME_LETTERS_MOST]
    return f"soak-{stem}-{hashlib.sha256(str(file.resolve()).encode()).hexdigest()[:6]}"


def _pen(journal: Journal, facts: RunFacts, clocks: Clocks, *, resume: bool) -> RunPen:
    """Take up the run that was broken off, if that is asked and its time is not over; else begin one."""
    now = clocks.unix_s(), clocks.steady_s()
    pen = journal.resume(*now) if resume else None
    if pen is not None:
        at = pen.clock.moment(*now)
        if at.run_s < pen.facts.asked_s:
            return pen
        pen.end(
            Ended(at, EndReason.FAILED, "it was broken off, and its time had passed before it was taken up")
        )
    if not facts.asked_s:
        what = "no run was broken off whose time is not over"
        raise JournalError(what, str(journal.path), "Begin one: say --until 06:00 or --for 8h")
    return journal.begin(facts, *now)


def _begin(night: Night, pen: RunPen, clocks: Clocks) -> None:
    try:
        night.begin(clocks.unix_s(), clocks.steady_s())
    except Exception as error:
        # Were it ended, what starts it again would begin another run, and light what somebody has made dark.
        if not pen.darkened_by:
            at = pen.clock.moment(clocks.unix_s(), clocks.steady_s())
            pen.end(Ended(at, EndReason.FAILED, f"it could not begin: {error}"))
        raise


def _summary(file: Path, pen: RunPen, destinations: tuple[str, ...]) -> Iterator[str]:
    facts = pen.facts
    universes = counted(len(facts.universes), "universe")
    level = f"{facts.level_percent:g} %"
    yield f"Night run {pen.number} of {file}: {universes} at {level}, {in_words(facts.asked_s)}."
    yield f"Programme, round after round: {facts.programme}. Journal: {file}.soak"
    if why := not_heated(facts.programme, facts.level_percent):
        yield f"Supplies, leads and joints are not heated as by a full show: {why}."
        yield f"For that, {how_to_heat(facts.supplies)}."
    if pen.gap is not None:
        length_s = pen.gap.length_s or 0.0
        yield f"Taken up where it was broken off; nothing is known of {in_words(length_s)}."
    if who := pen.darkened_by:
        yield (
            f"Made dark by hand before that, by {who}: all lights stay dark until a person lights them. "
            f"For that: ropewalk attach {run_name(file)}, then Space."
        )
    if not all(map(is_loopback, destinations)):
        yield (
            "Caution: real lights change, all night: nobody on a ladder or at the wiring. Look "
            "at leads, joints and supplies after ten minutes and after an hour; end it if anything is hot or "
            "smells."
        )
