"""The logbook: the punch list first, then what is proven; what was found and fixed, and when."""

from collections.abc import Iterable
from functools import partial
from typing import ClassVar

from rich.console import Group
from rich.padding import Padding
from rich.text import Text
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from streamer.errors import RopewalkError
from streamer.logbook.records import TEXT_LIMIT, Kind
from tui.logged import Block, Logged
from tui.plain import shown
from tui.screens.line import Line
from tui.screens.sheet import Sheet

HEAD_INDENT, EVENT_INDENT = (0, 0, 0, 2), (0, 0, 0, 4)
"""Cells above, right, below and left: what is wrapped stays under its own beginning."""
QUESTIONS = {Kind.FIXED: "What was done about {}?", Kind.NOTE: "What is to be noted about {}?"}


class LogSheet(Sheet[None]):
    """A list to go up and down in; what is noted is about the string that is chosen."""

    title_text = "Logbook"
    caps = (
        ("x", "Fixed...", "screen.fixed"),
        ("t", "Note...", "screen.note"),
        ("Esc", "Back", "screen.back_out"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("x", "fixed", "Fixed", show=False),
        Binding("t", "note", "Note", show=False),
        Binding("f3", "back_out", "Back", show=False),
    ]

    def __init__(self, logged: Logged) -> None:
        super().__init__()
        self._logged = logged
        self._blocks: tuple[Block, ...] = ()

    def body(self) -> Iterable[Widget]:
        """Return the summary and the list."""
        with Vertical(classes="sheet-body"):
            yield Static("", id="log-summary")
            yield OptionList(id="log-list")

    def on_mount(self) -> None:
        """Read the logbook."""
        self._read()

    def _read(self) -> None:
        listed = self.query_one(OptionList)
        chosen = self._chosen
        try:
            summary, self._blocks = self._logged.read()
        except RopewalkError as error:
            summary, self._blocks = f"! {error}", ()
        self.query_one("#log-summary", Static).update(Content.styled(shown(summary), "bold"))
        listed.clear_options()
        listed.add_options(
            Option(self._told(block), id=str(number), disabled=block.is_heading)
            for number, block in enumerate(self._blocks)
        )
        places = [number for number, block in enumerate(self._blocks) if not block.is_heading]
        same = [number for number in places if chosen and self._blocks[number].subject == chosen.subject]
        listed.highlighted = next(iter(same or places), None)
        listed.focus()

    @staticmethod
    def _told(block: Block) -> Content | Group:
        if block.is_heading:
            todo = f"\n{shown(block.lines[0])}" if block.lines else ""
            return Content.assemble((shown(block.head), "bold $accent"), (todo, "$quiet"))
        lines = (Padding(Text(shown(line)), EVENT_INDENT) for line in block.lines)
        return Group(Padding(Text(shown(block.head), "bold"), HEAD_INDENT), *lines)

    @property
    def _chosen(self) -> Block | None:
        at = self.query_one(OptionList).highlighted
        return self._blocks[at] if at is not None and at < len(self._blocks) else None

    def action_fixed(self) -> None:
        """Note that the chosen one is mended, and how."""
        self._ask(Kind.FIXED)

    def action_note(self) -> None:
        """Note something about the chosen one."""
        self._ask(Kind.NOTE)

    def _ask(self, kind: Kind) -> None:
        block = self._chosen
        if block is not None and block.subject:
            question = QUESTIONS[kind].format(block.subject)
            self.app.push_screen(
                Line(kind.value.capitalize(), question, TEXT_LIMIT), partial(self._write, kind, block.subject)
            )

    def _write(self, kind: Kind, subject: str, words: str | None) -> None:
        if words is None:
            return
        try:
            self._logged.note(kind, subject, words)
        except RopewalkError as error:
            self.notify(shown(str(error)), severity="error", markup=False)
        else:
            self._read()
