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
MORE = "e tells all:"
FEW_ANSWERS = 4
"""With more of them a small screen has a line each for what is possible."""
THINKING = "Thinking of everything that it may be..."


class Asked(VerticalScroll):
    """Shows pages; a question that cannot be answered yet is drawn faint."""

    def __init__(self, *, has_yard: bool) -> None:
        super().__init__(classes="sheet-body", can_focus=False)
        self._has_yard = has_yard
        self._page: Page | None = None
        self._is_crowded = False
        """Whether something is wrong, which takes lines of its own."""

    def compose(self) -> ComposeResult:
        """Put the page together."""
        yield Static("", id="asking-network")
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

    def alarm(self, network: str, words: str) -> None:
        """Show what is wrong with the network, on a small screen in one line; and what else is to be read."""
        is_folded = bool(network) and not (self._is_wide and self._is_tall)
        self._warn("network", f"{MORE} {network}" if is_folded else network)
        self._warn("alarm", words)
        self._static("network").set_class(is_folded, "is-folded")
        self._is_crowded = bool(network or words)
        self._tell_headline()
        self._keep_answers_in_view()

    def _warn(self, part: str, words: str) -> None:
        place = self._static(part)
        place.display = bool(words)
        place.update(Content.styled("\n".join(map(shown, words.splitlines())), "bold $error"))

    def set_closed(self, is_closed: bool) -> None:  # noqa: FBT001  what it is set to
        """Draw what is asked faint, or as something that can be answered."""
        self.query_one(Answers).set_closed(is_closed)
        for part in ("question", "headline"):
            self.query_one(f"#asking-{part}").set_class(is_closed, "is-coming")

    def place(self, page: Page) -> None:
        """Show where one is, and how sure it is."""
        cells = BAR_CELLS if self._is_wide else SHORT_BAR_CELLS
        self._static("place").update(place_text(page, cells))

    def show(self, page: Page, cells: "Bytes | None") -> None:
        """Show a page, and what each node of its string is sent, (N, 4)."""
        self._page = page
        self.place(page)
        self._ask(page)
        self._show_picture(page, cells)
        answers = self.query_one(Answers)
        answers.offer(page.answers, page.lights)
        answers.set_class(bool(page.outcome), "is-after")
        is_short = not self._is_tall and len(page.answers) > FEW_ANSWERS
        sure = self._static("sure")
        sure.set_class(is_short, "is-short")
        sure.update(sure_text(page, is_short=is_short))
        # Without answers the arrows scroll the outcome.
        self.can_focus = not page.answers
        self._keep_answers_in_view()
        if not page.answers:
            self.focus()

    def _keep_answers_in_view(self) -> None:
        """Scroll as far as the answers need: whatever else is to be read, they are to be seen."""
        if self._page is not None:
            self.call_after_refresh(self._scroll_to_answers)

    def _scroll_to_answers(self) -> None:
        if not self.is_attached:
            return
        answers = self.query_one(Answers)
        hidden = answers.virtual_region.bottom - self.scrollable_content_region.height
        is_asked = self._page is not None and not self._page.outcome and answers.display
        self.scroll_to(y=max(0, hidden) if is_asked else 0, animate=False)

    def _ask(self, page: Page) -> None:
        is_wide, is_tall = self._is_wide, self._is_tall
        self.query_one(Arrived).display = self._has_yard and not page.outcome
        self._tell_headline()
        first, *others = page.outcome or (page.question,)
        begin, go_on = "\n\n" if is_wide else "\n", "\n\n" if is_tall else "\n"
        rest = begin + go_on.join(map(shown, others)) if others else ""
        self._static("question").update(Content.assemble((shown(first), "bold $accent"), rest))

    def _tell_headline(self) -> None:
        """Say it large where that leaves room for the answers."""
        page = self._page
        if page is not None:
            is_few = len(page.answers) <= FEW_ANSWERS
            has_room = self._is_tall or is_few or not (self._has_yard or self._is_crowded)
            self.query_one(Headline).tell(page.headline, has_room=has_room)

    def _show_picture(self, page: Page, nodes: "Bytes | None") -> None:
        cells, told = self.query_one(Cells), self._static("told")
        cells.nodes = nodes
        cells.display = nodes is not None and not page.outcome
        cells.refresh()
        told.update(Content.styled(shown(page.told), "$quiet"))
        # The row of cells says the same, and a small screen needs the place for question and answers.
        told.display = bool(page.told) and (not cells.display or (self._is_wide and self._is_tall))

    def see(self, strings: "Iterable[tuple[str, Bytes]]", gain: float) -> None:
        """Show what the yard shows of these strings, (n, 4) each; nothing while a look is on its way."""
        arrived = self.query_one(Arrived)
        scale = ", a cell a node" if self._is_wide else ""
        arrived.see(tuple((f"What arrives on {shown(name)}{scale}:", nodes) for name, nodes in strings), gain)
        arrived.visible = not self.query_one(Answers).is_closed

    @property
    def _is_wide(self) -> bool:
        return self.app.size.width >= NARROW

    @property
    def _is_tall(self) -> bool:
        return self.app.size.height >= TALL

    def _static(self, part: str) -> Static:
        return self.query_one(f"#asking-{part}", Static)
