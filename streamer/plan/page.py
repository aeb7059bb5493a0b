"""The page to print and tape inside each controller's lid: one file, nothing fetched, no scripts."""

from collections.abc import Sequence
from importlib import resources

from jinja2 import Environment, StrictUndefined

from patterns.colours import COLOURS
from streamer.display.model import Display, Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.plan.addresses import Extent, SlotAddress
from streamer.plan.drawing import drawing_of
from streamer.plan.findings import Finding
from streamer.plan.paper_power import FeedRow, SupplyRow, feed_rows, supply_rows
from streamer.plan.report import ControllerPlan, DisplayPlan, StringPlan
from streamer.power.injection import NONE_SUFFICES

MARK = "<!doctype html>\n<!-- ropewalk plan -->\n"
"""How every page begins: by it one of ours is known."""
SPOT_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NUMBER_WORD = {Protocol.E131: "universe", Protocol.ARTNET: "Port-Address"}
LIGHT = "#fff"
DARK = "#000"
DARK_PATCHES = frozenset({"red", "blue", "magenta"})
"""On these a letter is legible in white."""

SHEET_MM = 172.0
"""Of a sheet of Letter, the shorter of the two: left for tables and the drawing."""
STRING_MM, SECOND_LINE_MM, ROW_MM = 6.6, 3.5, 5.1
TABLE_HEAD_MM = 10.0
LABEL_CHARACTERS, NOTE_CHARACTERS = 48, 16
"""Of a string's name, in one line with its notes; and of a note."""
FINDING_MM, FINDING_LINE_MM, FINDING_CHARACTERS = 5.5, 4.4, 115
"""Of one line; those of a sheet that has more of them go on to the next."""
DRAWING_LEAST_MM, DRAWING_MOST_MM = 55.0, 115.0

CAUTIONS = {
    "Mains outdoors": """Only through an RCD (GFCI) whose button you have tried, with supplies and connectors
        made for wet places.""",
    "Live strings": """Take the power away before you open this lid, plug, cut or join anything, and see that
        it stays away.""",
    "Fuses": """Every run has its own, before its thinnest wire and rated for that wire; never put in a bigger
        one. Low voltage does not shock, but it can start a fire.""",
    "Ladders": "On firm ground, one out for four up, somebody at the foot; not in wind, rain or the dark.",
    "Flashing light": """It can bring on seizures: warn those who look on; never more than three flashes in
        any second.""",
}


def page_of(made: DisplayPlan, display: Display) -> str:
    """Return the page of a display and its plan: a sheet for each controller."""
    paper = resources.files("streamer.plan").joinpath("paper")
    template = _environment().from_string(paper.joinpath("lid.html.j2").read_text("utf-8"))
    patches = _patches()
    sheets = []
    for each, controller in zip(made.controllers, display.controllers, strict=True):
        feeds, supplies = feed_rows(each, controller), supply_rows(made.power, controller, display)
        found = _concerning(made, each, [row.supply.name for row in supplies])
        room_mm = _room_mm(each, feeds, supplies, found)
        sheets.append(
            {
                "plan": each,
                "findings": found,
                "feeds": feeds,
                "supplies": supplies,
                "drawing": drawing_of(display, controller, room_mm, _advised(each)),
                "letters": _letters(each),
                "fills": {string.name: patches[string.colour]["fill"] for string in each.strings},
            }
        )
    return MARK + template.render(
        made=made,
        sheets=sheets,
        css=paper.joinpath("lid.css").read_text("utf-8"),
        patches=patches,
        cautions=CAUTIONS,
        none_suffices=NONE_SUFFICES,
    )


def _environment() -> Environment:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, auto_reload=False
    )
    environment.filters |= {
        "where": _where,
        "until": _until,
        "amps": lambda amps: f"{amps:.2f} A",
        "protocol_name": lambda name: PROTOCOL_NAME[Protocol(name)],
        "number_word": lambda name: NUMBER_WORD[Protocol(name)],
    }
    return environment


def _room_mm(
    plan: ControllerPlan, feeds: Sequence[FeedRow], supplies: Sequence[SupplyRow], findings: Sequence[Finding]
) -> float:
    """Return how high a drawing may be so that a sheet is one page, if that can be."""
    strings_mm = sum(
        STRING_MM + SECOND_LINE_MM * (_characters(string) > LABEL_CHARACTERS) for string in plan.strings
    )
    tables = [len(rows) for rows in (feeds, supplies, plan.fixtures) if rows]
    rows_mm = sum(TABLE_HEAD_MM + ROW_MM * rows for rows in tables)
    rows_mm += ROW_MM * sum(row.advice is not None for row in feeds)
    findings_mm = sum(FINDING_MM + FINDING_LINE_MM * (_lines(each) - 1) for each in findings)
    left_mm = SHEET_MM - strings_mm - rows_mm - findings_mm
    return min(max(left_mm, DRAWING_LEAST_MM), DRAWING_MOST_MM)


def _lines(finding: Finding) -> int:
    """Return about how many lines a finding takes."""
    return -(-len(f"{finding.place}: {finding.what}. {finding.instead}") // FINDING_CHARACTERS)


def _concerning(made: DisplayPlan, plan: ControllerPlan, supplies: Sequence[str]) -> list[Finding]:
    """Return what was found of a controller, its supplies or the display; not what is of another alone."""
    own = [f"{plan.name}/", plan.name, *(each.name for each in plan.fixtures), *supplies]
    others = [f"{each.name}/" for each in made.controllers if each is not plan]
    others += [each.name for other in made.controllers for each in other.fixtures if other is not plan]
    return [
        each
        for each in made.findings
        if any(name in each.place for name in own) or not any(name in each.place for name in others)
    ]


def _characters(string: StringPlan) -> int:
    """Return about how long a string's name is with its notes."""
    return len(string.label or string.name) + NOTE_CHARACTERS * (string.reversed + bool(string.skip))


def _advised(plan: ControllerPlan) -> dict[str, tuple[int, ...]]:
    """Return after which nodes of each string more feeds are advised."""
    return {
        string.name: string.current.inject.after
        for string in plan.strings
        if string.current and string.current.inject
    }


def _letters(controller: ControllerPlan) -> dict[str, str]:
    """Return the mark of each fixture on the drawing; only as many as there are letters have one."""
    names = [fixture.name for fixture in controller.fixtures]
    return dict(zip(names, SPOT_LETTERS, strict=False))


def _patches() -> dict[str, dict[str, str]]:
    return {
        colour.name: {
            "fill": f"#{colour.value[:3].tobytes().hex()}",
            "letter": colour.letter,
            "ink": LIGHT if colour.name in DARK_PATCHES else DARK,
        }
        for colour in COLOURS
    }


def _where(address: SlotAddress) -> str:
    """Return "37 (0:2:5), slot 189": the number as in a text, without the word before it."""
    return f"{address.text.split(' ', 1)[1]}, slot {address.slot}"


def _until(extent: Extent) -> str:
    """Return where an extent ends, without the universe where it is the one that it begins in."""
    if extent.first.universe == extent.last.universe:
        return f"slot {extent.last.slot}"
    return _where(extent.last)
