"""Reads what a report is made of: a run of the journal, the logbook, and the display file as it is now."""

from pathlib import Path

from streamer.display.file import load
from streamer.display.places import plain
from streamer.errors import FileError, JournalError, PlanError, Problem, RopewalkError
from streamer.logbook.standing import State, standings
from streamer.logbook.store import logbook_path, read_logbook
from streamer.report.made import Findings, Report, findings_of, report
from streamer.soak.journal import SUFFIX, fingerprint, journal_path, reading
from streamer.soak.records import RunRecord


def display_file(file: Path | None) -> Path:
    """Return the display file meant: by its own name or by its journal's; without one the only one here."""
    if file is not None:
        return file.with_name(file.name.removesuffix(SUFFIX)) if file.name.endswith(SUFFIX) else file
    here = sorted(Path.cwd().glob(f"*{SUFFIX}"))
    if len(here) == 1:
        return display_file(here[0])
    what = f"there are {len(here)} journals in this folder" if here else "there is no journal in this folder"
    raise PlanError([Problem("FILE", what, "Name the display file whose night it is")])


def need_night(file: Path) -> None:
    """Raise FileError where there is neither the display file nor a journal of it."""
    if not file.exists() and not journal_path(file).exists():
        what = "there is no such file, and no night run of it"
        raise FileError([Problem(plain(str(file)), what, "Check the name")])


def runs_of(file: Path) -> tuple[RunRecord, ...]:
    """Return every run of a display file's journal."""
    with reading(journal_path(file)) as reader:
        return reader.runs()


def report_of(file: Path, number: int | None, now_unix_s: float) -> Report:
    """Return the report of a run, the last one without a number; JournalError where there is none."""
    path = journal_path(file)
    with reading(path) as reader:
        runs = reader.runs()
        if not runs:
            instead = f"Begin one: `ropewalk soak {plain(file.name)} --for 8h`"
            raise JournalError("there is no run of a night in it", plain(str(path)), instead)
        run = next((each for each in reversed(runs) if number in (None, each.number)), None)
        if run is None:
            instead = f"It has {runs[0].number} to {runs[-1].number}"
            raise JournalError(f"there is no run {number}", plain(str(path)), instead)
        return report(
            run,
            reader.events(run.number),
            reader.samples(run.number),
            _findings(file, run.began_at.unix_s),
            now_unix_s,
            fingerprint=fingerprint_of(file),
        )


def fingerprint_of(file: Path) -> str | None:
    """Return what tells a display file from a changed one, as `RunFacts` has it; None where it is gone."""
    try:
        return fingerprint(file)
    except OSError:
        return None


def _findings(file: Path, since_unix_s: float) -> Findings:
    try:
        entries = read_logbook(logbook_path(file))
        told = findings_of(entries, since_unix_s, ())
    except RopewalkError as error:
        return Findings(problem=plain(str(error)))
    try:
        stand = standings(load(file), entries)
    except RopewalkError:
        # The display file's own troubles are `check`'s; the night was with the file as it was then.
        return told
    faults = [each.subject.name for each in stand.all if each.state is State.FAULT]
    return findings_of(entries, since_unix_s, faults)
