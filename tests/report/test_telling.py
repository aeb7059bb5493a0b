"""The report as text, page, Markdown and JSON: all of it, within its width, and no name does any harm."""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser
from xml.etree import ElementTree as ET

import pytest

from streamer.logbook.records import Entry, Kind, Sort
from streamer.report.made import Findings, Report, findings_of
from streamer.report.markdown import as_markdown
from streamer.report.night import Night
from streamer.report.page import as_html
from streamer.report.plots import lateness_svg, loss_svg, timeline_svg
from streamer.report.table import as_dict
from streamer.report.text import as_text
from streamer.report.times import length_text
from streamer.soak.records import ControllerFacts, Event, EventKind, Severity
from tests.report.conftest import STORMY_EVENTS, Make, at, quiet
from tests.report.conftest import stormy as stormy_samples
from tests.soak.conftest import TEN_IN_THE_EVENING, facts

HOSTILE = ("<script>alert(1)</script>", "a|b`c`[x](http://y)", "$\\frac{1}{2}$ \x1b[2J\u202e", "&amp;*_#")


def hostile(make: Make) -> Report:
    """Return a report whose every name means harm."""
    names = tuple(f"{name} {number}" for number, name in enumerate(HOSTILE))
    odd = replace(facts(controllers=names), supplies=names, supply_limits_a=dict.fromkeys(names, 16.0))
    events = tuple(Event(EventKind.CONTROLLER_GONE, n, n, Severity.FAILURE, at(60), at(90)) for n in names)
    noted = Entry(
        at=datetime.fromtimestamp(TEN_IN_THE_EVENING + 5, UTC),
        kind=Kind.NOTE,
        sort=Sort.STRING,
        name=names[0],
        words=names[2],
    )
    findings = findings_of([noted], TEN_IN_THE_EVENING, names)
    odd = replace(odd, display=names[2], programme=names[1], host=names[0], interface=names[3])
    called_for = dict.fromkeys([*names, "\x1b[2J of no supply"], 1.5)
    samples = (replace(each, amps=called_for) for each in quiet(600, names))
    return make(events, samples, findings, facts=odd, last_at=at(600))


class Tags(HTMLParser):
    """Collects what a browser would make elements and addresses of."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.addresses: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note it."""
        self.tags.add(tag)
        self.addresses += [value or "" for name, value in attrs if name in {"src", "href"}]


@pytest.mark.parametrize("width", [40, 80])
def test_the_text_fits_and_says_it_all(stormy: Report, width: int):
    """The verdict in the first line; each section; each event with its time and length."""
    text = as_text(stormy, width)
    assert max(map(len, text.splitlines())) <= width
    words = " ".join(text.split())
    assert words.startswith(
        "FAILED after 8 h at a level of 30 %: link down (eth0) for 1 min 27 s, and 4 more reasons."
    )
    for said in (
        "Boathouse, run 3: 2025-11-30 22:00 +00:00 to 2025-12-01 06:00 +00:00, time is up.",
        "# 00:00:01 link down: eth0, 1 min 27 s, the cable leads nowhere",
        "o 00:30:00 controller rebooted: jetty, its counter began anew",
        "Besides: 1 programme step.",
        "1,152,000 frames sent in 115,200,000 packets; 54 late, 24 skipped, 0 failed.",
        "the latest of all 112.5 ms.",
        "The frames called for at most 15.74 A at once, reckoned and not measured.",
        "boathouse: at most 12.49 A, for hours 16.00 A, 78 % of it.",
        "jetty: at most 3.58 A, for hours 8.00 A, 45 % of it.",
        "boathouse: answered 100 % of 40,320, away never, restarts none",
        "jetty: answered 99.69 % of 40,320, away 1 x, 1 min 26 s, restarts 1",
        "1 failure in 8.00 watched hours: with 95 % confidence there are no more than 0.593 an hour",
        "takes 449 h without any",
        "Nobody looked at the lights",
    ):
        assert said in words, said


def test_what_the_system_refused_is_told_in_words(make: Make):
    """By its name and what that means: errno(3). A name that is none is quoted."""
    refused = {"ENETUNREACH": 1_200, "EOWN\x1b": 1}
    text = " ".join(as_text(make((), [replace(quiet(5)[0], errors=refused)], length_s=5), 80).split())
    assert "1,200 packets with ENETUNREACH, this machine has no way to that network; 1 packet with " in text
    assert "\x1b" not in text


def test_a_quiet_night_says_what_it_proves(make: Make):
    """The exact bound, and the rule of three beside it."""
    words = " ".join(as_text(make(), 80).split())
    assert words.startswith("PASSED after 8 h at a level of 30 %, nothing to remark.")
    assert "No failure in 8.00 watched hours" in words
    assert "0.374 an hour (exact, by chi-squared; the rule of three says 3 / 8.00 h = 0.375)" in words
    assert (
        "one in 2.67 h or seldomer. At that rate a show of 5 h would still fail with a chance of 85 %"
        in words
    )


@pytest.mark.parametrize(
    ("level", "programme", "why"),
    [
        (30, "full:4m,dark:30s", "the level is 30 %"),
        (100, "data:2m,dark:30s", "the programme has no part 'full'"),
        (100, "full:4m,dark:30s", ""),
    ],
)
def test_supplies_that_were_not_heated_are_told_and_how_to_heat_them(
    make: Make, level: float, programme: str, why: str
):
    """The usual 30 % is safe, and less than a show asks of supplies and joints."""
    told = replace(facts(), level_percent=level, programme=programme)
    words = " ".join(as_text(make(facts=told), 80).split())
    assert ("at a level of 30 %" in words.split(".")[0]) == (level < 100)
    assert (
        f"joints were not heated as by a full show: {why}. For that, ask for --level 100:" in words
    ) == bool(why)


def test_no_chance_is_told_as_certain(make: Make):
    """After ten minutes: 1 - 0.05 ** 30 is nearly 1."""
    words = " ".join(as_text(make(length_s=600), 80).split())
    assert "would still fail with a chance of more than 99 %" in words


def test_the_page_fetches_nothing_and_runs_nothing(stormy: Report):
    """One file, its pictures within it."""
    page = as_html(stormy)
    found = Tags()
    found.feed(page)
    assert not {"script", "link", "iframe", "object", "svg"} & found.tags
    assert len(found.addresses) == 3
    assert all(each.startswith("data:image/svg+xml;base64,") for each in found.addresses)
    assert 'class="failed"' in page
    assert page.count("<tr class=") == 6


def test_names_do_no_harm_on_the_page(make: Make):
    """They are text, and those that cannot be printed are quoted."""
    page = as_html(hostile(make))
    found = Tags()
    found.feed(page)
    assert "script" not in found.tags
    assert len(found.addresses) == 3
    assert "&lt;script&gt;alert(1)" in page
    assert "\x1b" not in page


def test_names_do_no_harm_in_markdown(make: Make):
    """No markup character of a name is left alone outside a block of code."""
    text = as_markdown(hostile(make))
    assert "\x1b" not in text
    assert "\u202e" not in text
    outside = "\n".join(line for line in text.splitlines() if not line.startswith("    "))
    for bare in ("<script", "](http", "`c`", "a|b", "&amp;"):
        assert bare not in outside.replace(bare, f"\\{bare}") or f"\\{bare}" in outside
        assert not re.search(rf"(?<!\\){re.escape(bare)}", outside), bare
    rows = [line for line in outside.splitlines() if line.startswith("| ")]
    bars = [len(re.findall(r"(?<!\\)\|", row)) for row in rows]
    # The table of supplies, with its head and its rule, has a column less than the others.
    assert bars.count(5) == len(HOSTILE) + 2
    assert set(bars) == {5, 6}


def test_names_do_no_harm_in_a_terminal(make: Make):
    """Not one control character, whatever the width."""
    for width in (40, 80):
        text = as_text(hostile(make), width)
        assert all(each.isprintable() for each in text.splitlines())


@pytest.mark.parametrize("draw", [timeline_svg, lateness_svg, loss_svg])
def test_the_pictures_are_whole_and_the_same_each_time(make: Make, draw: Callable[[Night], str]):
    """XML that parses, names as text, no formula made of a dollar sign, no date in it."""
    night = hostile(make).night
    svg = draw(night)
    ET.fromstring(svg)  # noqa: S314  our own
    assert svg == draw(night)
    assert "mathdefault" not in svg
    assert "frac" in svg or draw is not timeline_svg


def test_a_night_of_nothing_is_drawn_all_the_same(make: Make):
    """A run that was broken off before its first sample."""
    empty = make((), iter(()), last_at=at(0), ended=None)
    assert "nothing was watched" in as_text(empty, 40)
    assert "Nothing was watched, so nothing is proven" in as_html(empty)
    assert "nothing is proven" in as_markdown(empty)
    assert json.loads(json.dumps(as_dict(empty, file="x"), allow_nan=False))["proof"]["most_per_hour"] is None


def test_json_has_every_event_and_every_bin(stormy: Report):
    """And numbers that add up."""
    told = json.loads(json.dumps(as_dict(stormy, file="display.toml"), allow_nan=False))
    assert told["verdict"] == "failed"
    assert len(told["events"]) == len(STORMY_EVENTS)
    assert told["events"][2]["length_s"] == 87
    assert told["events"][2]["began"] == {"at": "2025-12-01T00:00:01+00:00", "run_s": 7_201}
    assert sum(each["sent"] for each in told["bins"]["tallies"]) == told["whole"]["sent"]
    assert told["proof"]["most_per_hour"] == pytest.approx(9.488 / 16, rel=1e-4)


def test_the_logbook_s_own_findings_are_told(make: Make):
    """Those written since the run began, and what is at fault."""
    note = Entry(
        at=datetime.fromtimestamp(TEN_IN_THE_EVENING + 3_600, UTC),
        kind=Kind.NOTE,
        sort=Sort.STRING,
        name="jetty/2",
        words="flickers in the wind",
    )
    before = note.model_copy(update={"at": datetime.fromtimestamp(TEN_IN_THE_EVENING - 1, UTC)})
    findings = findings_of([before, note], TEN_IN_THE_EVENING, ["jetty/2"])
    text = as_text(make((), stormy_samples(), findings), 100)
    assert text.count("flickers in the wind") == 1
    assert "2025-11-30 23:00 jetty/2: note: flickers in the wind." in text
    assert "At fault as it stands: jetty/2." in text
    assert "a logbook" in as_text(make((), None, Findings(problem="this is no a logbook")), 100)


@pytest.mark.slow
def test_a_thousand_controllers_and_events_leave_a_page(make: Make):
    """What has no room is counted."""
    names = tuple(f"board {number}" for number in range(1_000))
    told = facts(controllers=names)
    odd = told.controllers[999]
    assert isinstance(odd, ControllerFacts)
    events = tuple(
        Event(EventKind.CONTROLLER_GONE, odd.name, "", Severity.REMARK, at(s), at(s + 1))
        for s in range(1_000)
    )
    text = as_text(make(events, quiet(1_005, ()), facts=told, last_at=at(1_005)), 80)
    assert "The other 999 controllers: nothing to tell." in text
    assert "Besides: 800 more events." in text
    assert "controller gone (board 999), 1,000 times for 16 min 40 s." in text
    assert re.search(r"^board 999 +o", text, re.MULTILINE)
    gone = tuple(replace(events[0], subject=name) for name in names)
    crowd = as_text(make(gone, (), facts=told, last_at=at(1_005)), 80)
    assert "976 more controllers have no room here." in crowd


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0.04, "0.0 s"),
        (9.94, "9.9 s"),
        (59.4, "59 s"),
        (60, "1 min"),
        (3_599.6, "1 h"),
        (3_660, "1 h 1 min"),
        (28_800, "8 h"),
        (604_800, "7 d"),
    ],
)
def test_lengths_are_told_as_people_tell_them(seconds: float, words: str):
    """At the edges of each unit."""
    assert length_text(seconds) == words


def test_words_alone_load_no_plots():
    """Matplotlib comes with the page only."""
    code = "import sys, streamer.cli.report, streamer.report.text\nassert 'matplotlib' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)
