"""The page to print and tape inside each controller's lid: one file, nothing fetched, no scripts."""

from importlib import resources

from jinja2 import Environment, StrictUndefined

from patterns.colours import COLOURS
from streamer.display.model import Display, Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.plan.addresses import Extent, SlotAddress
from streamer.plan.drawing import drawing_of
from streamer.plan.report import ControllerPlan, DisplayPlan

MARK = "<!doctype html>\n<!-- ropewalk plan -->\n"
"""How every page begins: by it one of ours is known."""
SPOT_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
NUMBER_WORD = {Protocol.E131: "universe", Protocol.ARTNET: "Port-Address"}
LIGHT = "#fff"
DARK = "#000"
DARK_PATCHES = frozenset({"red", "blue", "magenta"})
"""On these a letter is legible in white."""

SHEET_MM = 152.0
"""Of a sheet of Letter, the shorter of the two: left for tables and the drawing."""
ROW_MM = 7.5
TABLE_HEAD_MM = 9.0
DRAWING_LEAST_MM, DRAWING_MOST_MM = 60.0, 115.0

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
    sheets = [
        {
            "plan": each,
            "drawing": drawing_of(display, controller, _room_mm(each)),
            "letters": _letters(each),
            "fills": {string.name: patches[string.colour]["fill"] for string in each.strings},
        }
        for each, controller in zip(made.controllers, display.controllers, strict=True)
    ]
    return MARK + template.render(
        made=made,
        sheets=sheets,
        css=paper.joinpath("lid.css").read_text("utf-8"),
        patches=patches,
        cautions=CAUTIONS,
    )


def _environment() -> Environment:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, auto_reload=False
    )
    environment.filters |= {
        "where": _where,
        "until": _until,
        "protocol_name": lambda name: PROTOCOL_NAME[Protocol(name)],
        "number_word": lambda name: NUMBER_WORD[Protocol(name)],
    }
    return environment


def _room_mm(controller: ControllerPlan) -> float:
    """Return how high a drawing may be so that a sheet is one page, if that can be."""
    tables = [len(rows) for rows in (controller.strings, controller.fixtures) if rows]
    left_mm = SHEET_MM - sum(TABLE_HEAD_MM + ROW_MM * rows for rows in tables) + TABLE_HEAD_MM
    return min(max(left_mm, DRAWING_LEAST_MM), DRAWING_MOST_MM)


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
