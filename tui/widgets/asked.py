"""A page of a guided session: where one is, the picture, the question, the answers, and what is possible."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widgets import Static

from tui.asked_text import place_text, sure_text
from tui.plain import shown
from tui.session import Page
from tui.widgets.answers import Answers
from tui.widgets.arrived import Arrived
from tui.widgets.cells import Cells
from tui.widgets.headline import Headline

if TYPE_CHECKING:
    from patterns.plain import Bytes

BAR_CELLS, SHORT_BAR_CELLS = 16, 8
NARROW, TALL = 60, 36
FEW_ANSWERS = 4
"""With more of them a small screen has a line each for what is possible."""
THINKING = "Thinking of everything that it may be..."


class Asked(VerticalScroll):
    """Shows pages; a question that cannot be answered yet is drawn faint."""

    def __init__(self, *, has_yard: bool) -> None:
        super().__init__(classes="sheet-body", can_focus=False)
        self._has_yard = has_yard

    def compose(self) -> ComposeResult:
        """Put the page together."""
        yield Static(Content(THINKING), id="asking-place")
        yield Static("", id="asking-alarm")
        yield Cells(id="asking-cells")
        yield Static("", id="asking-told")
        yield Arrived()
        yield Headline(id="asking-headline")
        yield Static("", id="asking-question")
        yield Answers(id="asking-answers")
        yield Static("", id="asking-sure")

    def tell(self, words: str) -> None:
        """Show words in place of a page."""
        self._static("place").update(Content(shown(words)))

    def alarm(self, words: str) -> None:
        """Show what is wrong, above all else."""
        place = self._static("alarm")
        place.display = bool(words)
        place.update(Content.styled(shown(words), "bold $error"))

    def set_closed(self, is_closed: bool) -> None:  # noqa: FBT001  what it is set to
        """Draw what is asked faint, or as something that can be answered."""
        self.query_one(Answers).set_closed(is_closed)
        for part in ("question", "headline"):
            self.query_one(f"#asking-{part}").set_class(is_closed, "is-coming")

    def place(self, page: Page) -> None:
        """Show where one is, and how sure it is."""
        is_wide = self.app.size.width >= NARROW
        self._static("place").update(place_text(page, BAR_CELLS if is_wide else SHORT_BAR_CELLS))

    def show(self, page: Page, cells: "Bytes | None") -> None:
        """Show a page, and what each node of its string is sent, (N, 4)."""
        self.place(page)
        self._show_picture(page, cells)
        self._ask(page)
        answers = self.query_one(Answers)
        answers.offer(page.answers, page.lights)
        answers.set_class(bool(page.outcome), "is-after")
        is_short = self.app.size.height < TALL and len(page.answers) > FEW_ANSWERS
        sure = self._static("sure")
        sure.set_class(is_short, "is-short")
        sure.update(sure_text(page, is_short=is_short))
        # Without answers the arrows scroll the outcome.
        self.can_focus = not page.answers
        self.scroll_home(animate=False)
        if not page.answers:
            self.focus()

    def _show_picture(self, page: Page, nodes: "Bytes | None") -> None:
        cells, told, arrived = self.query_one(Cells), self._static("told"), self.query_one(Arrived)
        cells.nodes = nodes
        cells.display = nodes is not None and not page.outcome
        cells.refresh()
        told.update(Content.styled(shown(page.told), "$quiet"))
        arrived.display = self._has_yard and not page.outcome
        # The row of cells says the same, and a small screen needs the place for the answers.
        size = self.app.size
        has_room = size.width >= NARROW and (not arrived.display or size.height >= TALL)
        told.display = bool(page.told) and (has_room or not cells.display)

    def _ask(self, page: Page) -> None:
        size = self.app.size
        is_wide, is_few = size.width >= NARROW, len(page.answers) <= FEW_ANSWERS
        has_room = size.height >= TALL or (is_wide and not self.query_one(Arrived).display) or is_few
        self.query_one(Headline).tell(page.headline, has_room=has_room)
        first, *others = page.outcome or (page.question,)
        gap = "\n\n" if is_wide else "\n"
        rest = "".join(f"{gap}{shown(each)}" for each in others)
        self._static("question").update(Content.assemble((shown(first), "bold $accent"), rest))

    def see(self, strings: "Iterable[tuple[str, Bytes]]", gain: float) -> None:
        """Show what the yard shows of these strings, (n, 4) each; nothing while a look is on its way."""
        arrived = self.query_one(Arrived)
        scale = ", a cell a node" if self.app.size.width >= NARROW else ""
        arrived.see(tuple((f"What arrives on {shown(name)}{scale}:", nodes) for name, nodes in strings), gain)
        arrived.visible = not self.query_one(Answers).is_closed

    def _static(self, part: str) -> Static:
        return self.query_one(f"#asking-{part}", Static)
