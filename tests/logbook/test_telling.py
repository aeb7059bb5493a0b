"""The logbook in a terminal, in a spreadsheet, on paper and for another program."""

import csv
import io
import json
from html.parser import HTMLParser

import pytest

from streamer.display.sample import sample_display
from streamer.logbook.page import as_html
from streamer.logbook.records import Entry, Kind, Verdict
from streamer.logbook.standing import Standings, standings
from streamer.logbook.table import as_dict, entries_csv, punch_list_csv
from streamer.logbook.text import as_text
from streamer.logbook.wording import summary
from tests.logbook.conftest import Write

HOSTILE = "<script>alert('x')</script>\x1b[31m\u202e"


@pytest.fixture(name="entries")
def _entries(write: Write) -> list[Entry]:
    """Tell of a proof, a fault mended and proven again, a fault, a proof of another file, and a note."""
    told = [
        write(name="boathouse/1", verdict=Verdict.PROVEN),
        write(name="boathouse/2", look="order", answer="other blocks", verdict=Verdict.FAULT),
        write(Kind.FIXED, name="boathouse/2", words="new lead"),
        write(name="boathouse/2", verdict=Verdict.PROVEN),
        write(Kind.FOUND, name="lake/1", verdict=Verdict.FAULT, words="break between node 12 and 13"),
        write(name="lake/2", verdict=Verdict.PROVEN, fingerprint={"slot": 1}),
        write(Kind.NOTE, name="lake/3", words=HOSTILE),
    ]
    return [entry.model_copy(update={"number": number}) for number, entry in enumerate(told, start=1)]


@pytest.fixture(name="stand")
def _stand(entries: list[Entry]) -> Standings:
    return standings(sample_display(), entries)


def test_one_line_says_how_many_stand_how(stand: Standings):
    """Strings and fixtures, and every state that there is."""
    assert summary(stand) == (
        "Boathouse: 8 strings and 2 fixtures. 2 proven, 1 at fault, 1 proof no longer holds, 6 not looked at."
    )


@pytest.mark.parametrize("width", [40, 80, 200])
@pytest.mark.parametrize("only_open", [True, False])
def test_the_text_fits_any_terminal_and_says_everything(stand: Standings, width: int, *, only_open: bool):
    """When, what, and why a proof no longer holds; control characters never reach the terminal."""
    text = as_text(stand, width, only_open=only_open)
    assert max(map(len, text.splitlines())) <= width
    assert all(line.isprintable() for line in text.splitlines())
    flat = " ".join(text.split())
    assert "2026-11-28 18:08 +01:00 found: break between node 12 and 13" in flat
    assert "the display file has changed: protocol was not given, is Art-Net" in flat
    assert ("proven again" in flat) is not only_open
    assert ("boathouse/1, Gable" in flat) is not only_open


def test_a_display_that_is_proven_whole_has_an_empty_punch_list():
    """And the text says so."""
    empty = Standings("Boathouse", ())
    assert "Nothing is open." in as_text(empty, 80, only_open=True)


def test_csv_has_every_entry_and_is_read_again_as_it_was_written(entries: list[Entry]):
    """RFC 4180, read by Python's own reader."""
    header, *rows = csv.reader(io.StringIO(entries_csv(entries)))
    assert [row[header.index("name")] for row in rows] == [entry.name for entry in entries]
    assert rows[4][header.index("words")] == "break between node 12 and 13"
    assert rows[0][header.index("when")] == "2026-11-28T18:04:00+01:00"


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_no_cell_is_a_formula_to_a_spreadsheet(cell: str, write: Write):
    """OWASP, CSV Injection: a quote before =, +, -, @, tab and return keeps a cell text."""
    rows = list(csv.reader(io.StringIO(entries_csv([write(Kind.NOTE, words=cell, label=cell)]))))
    assert all(not each.startswith(("=", "+", "-", "@", "\t", "\r")) for each in rows[1])
    assert rows[1][10].startswith("'")


def test_csv_marks_what_was_undone(write: Write):
    """It is there, so that nothing is hidden, but it counts for nothing."""
    slip = write(verdict=Verdict.FAULT).model_copy(update={"number": 1})
    undoing = write(Kind.UNDONE, undoes=1).model_copy(update={"number": 2})
    rows = list(csv.reader(io.StringIO(entries_csv([slip, undoing]))))
    assert [row[-1] for row in rows] == ["undone", "yes", ""]


def test_the_punch_list_as_csv_has_what_is_open_the_most_urgent_first(stand: Standings):
    """With since when, and why."""
    header, *rows = csv.reader(io.StringIO(punch_list_csv(stand)))
    assert header == ["about", "name", "label", "state", "since", "why"]
    assert rows[0][1:] == [
        "lake/1",
        "Lantern on the ridge",
        "at fault",
        "2026-11-28T18:08:00+01:00",
        "found: break between node 12 and 13",
    ]
    assert len(rows) == len(stand.punch_list) == 8


def test_json_says_how_everything_stands_with_its_history(stand: Standings):
    """Or only what is open."""
    told = json.loads(json.dumps(as_dict(stand, "display.toml", only_open=False)))
    assert told["counts"]["proven"] == 2
    assert [each["what"] for each in told["strings"][1]["history"]] == ["answer", "fixed", "answer"]
    assert len(as_dict(stand, "display.toml", only_open=True)["strings"]) == 8


class Page(HTMLParser):
    """What a browser would make of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str | None] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note it."""
        self.tags.append(tag)
        self.links += [value for name, value in attrs if name in {"src", "href", "style"} or name[:2] == "on"]

    def handle_data(self, data: str) -> None:
        """Note it."""
        self.words += data


@pytest.mark.parametrize("only_open", [True, False])
def test_the_page_fetches_nothing_runs_nothing_and_shows_names_as_text(
    stand: Standings, write: Write, *, only_open: bool
):
    """Whatever a note or a name holds."""
    page = Page(as_html(stand, write().at, only_open=only_open))
    assert "script" not in page.tags
    assert not page.links
    assert "alert" in page.words
    assert "\x1b" not in page.words
    assert "break between node 12 and 13" in page.words
    assert ("Gable" in page.words) is not only_open
