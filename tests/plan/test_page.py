"""The page for the lid: whole in itself, safe against names, and with what one needs at the ladder."""

from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest

from patterns.colours import COLOURS
from streamer.display.electrics import Injection, Lead, Supply, Wire
from streamer.display.model import Display, Segment
from streamer.display.sample import sample_display
from streamer.plan.asked import Asked, Host
from streamer.plan.drawing import ROW_MM, WIDTH_MM, drawing_of
from streamer.plan.electricity import Lowest, PortCurrent, Power, power_of
from streamer.plan.page import MARK, page_of
from streamer.plan.report import plan_of
from streamer.power.plan import power_plan
from tests.plan.lake import controller, display, flood, port

HOSTILE = "<script>alert(1)</script>&\"'}{{ 7*7 }}"
FETCHING = {
    "src",
    "href",
    "xlink:href",
    "srcset",
    "action",
    "data",
    "poster",
    "background",
    "formaction",
    "ping",
}
ALLOWED = {
    *(
        "html",
        "head",
        "meta",
        "title",
        "style",
        "body",
        "section",
        "header",
        "footer",
        "h1",
        "p",
        "b",
        "i",
        "br",
    ),
    *("table", "thead", "tbody", "tr", "th", "td", "span", "div", "figure", "figcaption"),
    *("svg", "line", "polyline", "rect", "circle", "text"),
}


class Reader(HTMLParser):
    """Keeps a page's tags, attributes and text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep it."""
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data: str) -> None:
        """Keep it, with single spaces."""
        self.text += f" {' '.join(data.split())}"


def page(what: Display, currents: dict[str, PortCurrent] | None = None) -> str:
    """Return the page of a display."""
    return page_of(plan_of(what, Asked(40), Host((), 20), Power(currents or {})), what)


def hostile() -> Display:
    """Return a display all of whose names want to be markup."""
    lake = display(
        controller(
            port(1, 1, nodes=1000, label=HOSTILE),
            name=HOSTILE,
            fixtures=(flood(9).model_copy(update={"name": HOSTILE}),),
        )
    )
    return lake.model_copy(update={"name": HOSTILE})


@pytest.mark.parametrize("what", [sample_display(), hostile()], ids=["sample", "hostile"])
def test_nothing_is_fetched_and_nothing_runs(what: Display):
    """No reference, no script, no event handler, no address in the style."""
    text = page(what)
    read = Reader(text)
    assert set(read.tags) <= ALLOWED
    assert not {name for name, _ in read.attributes} & FETCHING
    assert not [name for name, _ in read.attributes if name.startswith("on")]
    style = text.partition("<style>")[2].partition("</style>")[0]
    for word in ("url(", "@import", "http:", "https:", "//"):
        assert word not in style
        assert word not in " ".join(value or "" for _, value in read.attributes)


def test_hostile_names_are_text():
    """Each stands there as it is written, and makes no tag; no template of theirs is carried out."""
    text = page(hostile())
    assert "<script" not in text
    assert "alert(1)" in Reader(text).text
    assert text.count("{{ 7*7 }}") >= 4
    assert "49" not in Reader(text).text.split()


def test_the_page_is_known_as_ours():
    """So that only a page of ours is written over."""
    assert page(sample_display()).startswith(MARK)


def test_every_port_has_its_row():
    """Number, colour, name, nodes, order, where it begins and ends."""
    made = plan_of(sample_display(), Asked(40), Host())
    text = Reader(page(sample_display())).text
    for each in made.controllers:
        for string in each.strings:
            line, last = string.line, string.extent.last
            assert f"{string.label}" in text
            assert f" {string.nodes} {string.colour_order} " in " ".join(text.split())
            assert f"{line.text.split(' ', 1)[1]}, slot {line.slot}" in text
            assert f"slot {last.slot}" in text
    assert "37 (0:2:5), slot 189" in text
    assert text.count("for the lids") == 1
    assert Reader(page(sample_display())).tags.count("section") == 2


def test_patches_have_the_colours_of_tint_with_their_letters():
    """A black-and-white printer leaves the letter."""
    text = page(sample_display())
    for colour in COLOURS:
        red, green, blue, _ = colour.value.tolist()
        assert f"background:#{red:02x}{green:02x}{blue:02x}" in text
    for before, after in pairwise(COLOURS[:5]):
        assert text.index(f">{before.letter}</span>") < text.index(f">{after.letter}</span>")


def test_the_cautions_stand_at_the_foot_of_every_sheet():
    """They name the hazard and defer to the local code and the electrician."""
    sheets = page(sample_display()).split("<section>")[1:]
    for sheet in sheets:
        foot = Reader(sheet.partition("<footer>")[2]).text
        for word in (
            "RCD (GFCI)",
            "Take the power away",
            "Fuses",
            "Ladders",
            "seizures",
            "local code",
            "licensed",
        ):
            assert word in foot


def test_what_would_go_wrong_stands_on_the_page():
    """A slow line and a fixture's universe are for the person at the lid too."""
    text = Reader(page(display(controller(port(1, 1, nodes=1000))))).text
    assert "Watch out, jetty/1:" in text
    assert "Watch out" not in Reader(page(sample_display())).text


def test_currents_stand_in_their_column_and_a_line_to_write_on_without_them():
    """Worked out elsewhere; else measured and written in by hand."""
    lake = display(controller(port(1, 1, nodes=10)))
    assert page(lake).count('class="blank"') == 6
    lowest = Lowest(4.61, 10)
    filled = page(lake, {"jetty/1": PortCurrent(5.5, 1.65, 30, full_lowest=lowest, level_lowest=lowest)})
    # Nobody has said which supply, which fuse, and so how much it carries.
    assert filled.count('class="blank"') == 3
    assert "5.50" in Reader(filled).text
    assert "1.65 A" in Reader(filled).text
    assert "4.61" in Reader(filled).text
    assert "at node 10" in Reader(filled).text


def powered(what: Display) -> str:
    """Return the page of a display with its power worked out at 30 %."""
    power = power_of(what, power_plan(what, 30), "None.")
    return page_of(plan_of(what, Asked(40), Host((), 20), power), what)


def rows_of(text: str, head: str) -> list[str]:
    """Return the rows, as text, of the tables whose first headings are these."""
    tables = [part.partition("</table>")[0] for part in text.split("<table")[1:]]
    found = [table for table in tables if " ".join(Reader(f"<table{table}").text.split()).startswith(head)]
    return [
        " ".join(Reader(f"<tr{row}").text.split())
        for table in found
        for row in table.partition("<tbody>")[2].split("<tr")[1:]
    ]


def test_every_feed_has_its_supply_lead_fuse_and_currents():
    """The sample's: NEC 210.20(A) lets a 5 A fuse carry 4 A for hours; node 56 is the jetty's joint."""
    rows = rows_of(powered(sample_display()), "port power fed at")
    assert len(rows) == 9
    assert rows[0].startswith("1 its beginning gable box 2 m, 16 AWG 5 A 4.00 A")
    assert rows[4].startswith("after node 56 jetty box 5 m, 16 AWG 5 A 4.00 A")
    made = plan_of(
        sample_display(),
        Asked(40),
        Host((), 20),
        power_of(sample_display(), power_plan(sample_display(), 30), "None."),
    )
    strings = [string for each in made.controllers for string in each.strings]
    feeds = [feed for string in strings if string.current for feed in string.current.feeds]
    for row, feed in zip(rows, feeds, strict=True):
        assert f"{feed.full_a:.2f} A {feed.level_a:.2f} A" in row


def test_the_supplies_of_a_lid_stand_on_it_and_say_what_else_they_feed():
    """350 W at 12 V are 29.2 A, of which 80 % are for hours; the other sheet has no supply."""
    shed = Supply(name="shed", volts=12, amps=350 / 12)
    fed: dict[str, Any] = {"supply": "shed", "node_kind": "12 V constant current"}
    lake = display(
        controller(port(1, 1, nodes=50, **fed)),
        controller(port(1, 3, nodes=50, **fed), name="shore"),
        controller(port(1, 5, nodes=50), name="reeds"),
    ).model_copy(update={"supplies": (shed,)})
    sheets = powered(lake).split("<section>")[1:]
    (first,), (second,), third = (rows_of(sheet, "supply volts") for sheet in sheets)
    assert first.startswith("shed (with what it feeds of shore) 12 V 29.2 A 23.33 A")
    assert "jetty" in second
    assert third == []


def test_a_supply_that_gives_too_little_says_by_how_much():
    """50 nodes of 12 V constant current draw 0.96 A at 30 %; 80 % of 1 A is 0.8 A."""
    shed = Supply(name="shed", volts=12, amps=1)
    lake = display(controller(port(1, 1, nodes=50, supply="shed", node_kind="12 V constant current")))
    (row,) = rows_of(powered(lake.model_copy(update={"supplies": (shed,)})), "supply volts")
    assert row.endswith("A too much")


def test_where_more_feeds_are_advised_they_stand_on_the_page_and_on_the_drawing():
    """A long 5 V string on thin wire; counted from the end where data and power enter."""
    string = port(
        1, 1, nodes=100, node_kind="5 V constant current", wire=Wire(awg=20), reversed=True, fuse_a=5
    )
    lake = display(controller(string))
    power = power_of(lake, power_plan(lake, 30), "None.")
    inject = power.currents["jetty/1"].inject
    assert inject is not None
    rows = rows_of(powered(lake), "port power fed at")
    assert len(rows) == 2
    assert rows[1].startswith(f"To add for full white : after nodes {inject.after[0]} (lead")
    assert powered(lake).count('class="to-feed"') == len(inject.after)
    assert "a white diamond" in powered(lake)
    assert 'class="to-feed"' not in powered(sample_display())


def test_feeds_are_drawn_at_their_nodes_counted_from_where_the_data_enters():
    """Node 3 of 11 on two metres is at 0.4 m, of a string fed at its far end at 1.6 m."""
    lead = Lead(length_m=1, wire=Wire(awg=18))
    for is_reversed, metres in ((False, 0.4), (True, 1.6)):
        up = Segment(nodes=11, start=(0, 0, 0), end=(0, 2, 0))
        string = port(1, 1, injections=(Injection(after=3, lead=lead),)).model_copy(
            update={"segments": (up,), "reversed": is_reversed}
        )
        lake = display(controller(string))
        drawing = drawing_of(lake, lake.controllers[0], 100, {"jetty/1": (11,)})
        (piece,) = drawing.mine[0].pieces
        mm_per_m = (piece.y1 - piece.y2) / 2
        (fed,) = drawing.mine[0].fed
        assert fed == pytest.approx((piece.x1, piece.y1 - metres * mm_per_m), abs=0.02)
        far = (piece.x1, piece.y1) if is_reversed else (piece.x2, piece.y2)
        assert drawing.mine[0].to_feed == (far,)


def test_a_lower_limit_of_flashes_stands_in_the_caution():
    """What the display file asks for."""
    calm = sample_display().model_copy(update={"flashes_per_s": 1})
    assert "no light may flash more than 1 time in a second" in " ".join(Reader(page(calm)).text.split())
    assert "Here no light" not in page(sample_display())


def test_strings_are_drawn_where_they_hang():
    """One scale, y up, within the paper; the head of a string fed at its far end is there."""
    up = Segment(nodes=11, start=(0, 0, 0), end=(0, 2, 0))
    across = Segment(nodes=21, start=(0, 2, 0), end=(4, 2, 0))
    string = port(1, 1).model_copy(update={"segments": (up, across), "reversed": True})
    lake = display(controller(string), controller(port(1, 9), name="shore"))
    drawing = drawing_of(lake, lake.controllers[0], 100)
    ((first, second),) = [strand.pieces for strand in drawing.mine]
    assert first.x1 == first.x2
    assert first.y1 - first.y2 == pytest.approx(2 * (second.x2 - second.x1) / 4, abs=0.02)
    assert first.step == pytest.approx((first.y1 - first.y2) / 10, abs=1e-3)
    assert (drawing.mine[0].x, drawing.mine[0].y) == (second.x2, second.y2)
    assert drawing.others == ()
    for piece in (first, second):
        assert all(0 < x < drawing.width for x in (piece.x1, piece.x2))
        assert all(0 < y < drawing.height <= 100 for y in (piece.y1, piece.y2))


def test_strings_without_positions_are_rows():
    """One under the other, to one scale; so a drawing never lies about where they hang."""
    lake = display(controller(port(1, 1, nodes=50), port(2, 2, nodes=100), port(3, 3, nodes=1)))
    drawing = drawing_of(lake, lake.controllers[0], 100)
    assert drawing.height == pytest.approx(3 * ROW_MM)
    short, long, dot = (strand.pieces[0] for strand in drawing.mine)
    assert (long.x2 - long.x1) / (short.x2 - short.x1) == pytest.approx(99 / 49, abs=0.01)
    assert long.x2 < WIDTH_MM
    assert [short.y1, long.y1, dot.y1] == sorted({short.y1, long.y1, dot.y1})
    assert dot.step == 0
    for piece, gaps in ((short, 49), (long, 99)):
        assert piece.x2 - 0.01 < piece.x1 + gaps * piece.step <= piece.x2


def test_a_controller_without_strings_has_a_sheet_without_a_drawing():
    """Only its fixtures, which hang somewhere unknown."""
    text = page(display(controller(fixtures=(flood(3),))))
    assert "<svg" not in text
    assert "Flood, reeds" in text


def test_more_fixtures_than_letters_do_not_fail():
    """Those after the last have no mark."""
    floods = [
        flood(3, 1 + 4 * n).model_copy(update={"name": f"Flood {n}", "position": (n, 0, 0)})
        for n in range(30)
    ]
    assert "Flood 29" in page(display(controller(fixtures=tuple(floods))))


def test_rows_without_positions_take_their_room_from_the_drawing():
    """Or the cautions at the foot would go on to another sheet: 8 rows, and no higher than asked."""
    up = Segment(nodes=11, start=(0, 0, 0), end=(0, 2, 0))
    placed = port(1, 1).model_copy(update={"segments": (up,)})
    lake = display(controller(placed, *(port(number, number) for number in range(2, 10))))
    assert drawing_of(lake, lake.controllers[0], 100).height == pytest.approx(100, abs=0.1)


def test_a_sheet_says_what_was_found_of_its_own_controller():
    """Of another's strings nothing; what is of no controller alone is on every sheet."""
    jetty = controller(port(1, 1, nodes=300))
    roof = jetty.model_copy(update={"name": "roof", "ports": (
        port(1, 9, nodes=300).model_copy(update={"name": "roof/1"}),)})  # fmt: skip
    lake = display(jetty, roof)
    made = plan_of(lake, Asked(40.0), Host(), power_of(lake, power_plan(lake, 30), "None."))
    common = replace(made.findings[0], place="network")
    split = [replace(made.findings[0], place=f"{name}/1") for name in ("jetty", "roof")]
    first, second = page_of(replace(made, findings=(common, *split)), lake).split("<section")[1:]
    assert [name in first for name in ("network:", "jetty/1:", "roof/1:")] == [True, True, False]
    assert [name in second for name in ("network:", "jetty/1:", "roof/1:")] == [True, False, True]
