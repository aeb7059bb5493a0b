"""The asking sheet: a look on the lights, one big question, one key for the answer. It leads any session."""

import asyncio
from collections.abc import Callable, Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.content import Content
from textual.events import Key
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from streamer.engine.messages import State
from streamer.errors import RopewalkError
from tui.arriving import Arriving
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.screens.words import Words
from tui.session import Page, Session
from tui.talk import Talk
from tui.widgets.arrived import Arrived
from tui.widgets.cells import Cells

BAR_CELLS, SHORT_BAR_CELLS = 16, 8
NARROW, TALL = 60, 36
FEW_ANSWERS = 4
"""With more of them a small screen has a line each for what is possible."""
ARRIVALS_HZ = 8
FULL_PERCENT = 100
THINKING = "Thinking of everything that it may be..."
DARK = "Dark now. Space brings the look back."


class Asking(Sheet[None]):
    """Borrows the lights while it is open; what was on before is put back when it closes."""

    caps = (
        ("Bksp", "Undo", "screen.undo"),
        ("s", "Skip", "screen.skip"),
        ("w", "Why", "screen.why"),
        ("Esc", "Leave", "screen.back_out"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("backspace", "undo", "Undo", show=False),
        Binding("s", "skip", "Skip", show=False),
        Binding("w", "why", "Why", show=False),
    ]

    def __init__(self, talk: Talk, title: str, begin: Callable[[], Session]) -> None:
        super().__init__()
        self.title_text = title
        self._talk, self._begin = talk, begin
        self._session: Session | None = None
        self._page: Page | None = None
        self._arriving = Arriving()

    def body(self) -> Iterable[Widget]:
        """Return the place, the picture, the question and the answers."""
        with VerticalScroll(classes="sheet-body", can_focus=False):
            yield Static(Content(THINKING), id="asking-place")
            yield Static("", id="asking-alarm")
            yield Cells(id="asking-cells")
            yield Static("", id="asking-told")
            yield Arrived()
            yield Static("", id="asking-question")
            yield OptionList(id="asking-answers")
            yield Static("", id="asking-sure")

    def on_mount(self) -> None:
        """Borrow the lights, and begin once the sheet is painted."""
        self._talk.lend()
        self.watch(self.app, "news", self._tell_alarm)
        if self._talk.yard is not None:
            self.set_interval(1 / ARRIVALS_HZ, self._see_arrivals)
        self.run_worker(self._start())

    async def _start(self) -> None:
        try:
            self._session = await asyncio.to_thread(self._begin)
            self._go_on()
        except RopewalkError as error:
            self._talk.note(str(error))
            self.query_one("#asking-place", Static).update(Content(shown(str(error))))

    def _go_on(self) -> None:
        session = self._session
        if session is None:
            return
        self._page = page = session.page
        look = session.look
        if look is not None:
            self._talk.put_up(look.setup, look.show, look.step)
        self._show(page, session)

    def _show(self, page: Page, session: Session) -> None:
        self.query_one("#asking-place", Static).update(self._place(page))
        cells = self.query_one(Cells)
        cells.session = session
        cells.display = session.cells is not None and not page.outcome
        cells.refresh()
        told = self.query_one("#asking-told", Static)
        told.update(Content.styled(shown(page.told), "$quiet"))
        arrived = self.query_one(Arrived)
        arrived.display = self._talk.yard is not None and not page.outcome
        # The row of cells says the same, and a small screen needs the place for the answers.
        has_room = self.app.size.width >= NARROW and (not arrived.display or self.app.size.height >= TALL)
        told.display = bool(page.told) and (has_room or not cells.display)
        first, *others = page.outcome or (page.question,)
        gap = "\n" if self.app.size.width < NARROW else "\n\n"
        rest = "".join(f"{gap}{shown(each)}" for each in others)
        self.query_one("#asking-question", Static).update(
            Content.assemble((shown(first), "bold $accent"), rest)
        )
        self._offer(page)
        if page.title:
            self.query_one(".sheet-title", Static).update(Content(shown(page.title)))
        is_short = self.app.size.height < TALL and len(page.answers) > FEW_ANSWERS
        sure = self.query_one("#asking-sure", Static)
        sure.set_class(is_short, "is-short")
        sure.update(self._sure(page, is_short=is_short))

    def _offer(self, page: Page) -> None:
        answers = self.query_one(OptionList)
        answers.clear_options()
        answers.add_options(
            Option(Content.assemble((f" {key} ", "bold $accent"), f" {shown(words)}"), id=key)
            for key, words in page.answers
        )
        answers.display = bool(page.answers)
        # Without answers the arrows scroll the outcome.
        body = self.query_one(VerticalScroll)
        body.can_focus = not page.answers
        body.scroll_home(animate=False)
        if page.answers:
            answers.highlighted = 0
            answers.focus()
        else:
            body.focus()

    def _place(self, page: Page) -> Content:
        if page.outcome:
            return Content.styled(page.place, "bold")
        cells = BAR_CELLS if self.app.size.width >= NARROW else SHORT_BAR_CELLS
        done = round(page.done * cells)
        parts: list[str | tuple[str, str]] = [
            (page.place, "bold"),
            "  ",
            ("━" * done, "$accent"),
            ("┄" * (cells - done), "$quiet"),
        ]
        if page.sure is not None:
            sure = round(page.sure * cells)
            parts += [
                "  sure ",
                ("■" * sure, "$accent"),
                ("·" * (cells - sure), "$quiet"),
                f" {page.certainty}",
            ]
        return Content.assemble(*parts)

    @staticmethod
    def _sure(page: Page, *, is_short: bool) -> Content:
        if page.outcome:
            return Content("")
        if is_short and page.sure is not None:
            first, *others = page.possible
            return Content("\n".join(("Possible now: " + shown(first), *map(shown, others))))
        head = ("Possible now:",) if page.sure is not None else ()
        return Content("\n".join((*head, *map(shown, page.possible))))

    def _see_arrivals(self) -> None:
        """Show what the yard shows of the strings in question: one can practise without any lights."""
        talk, page = self._talk, self._page
        if talk.arrivals is None or talk.setup is None or page is None:
            return
        strings = self._arriving.look(talk.arrivals, talk.setup.display, page.watched)
        level = talk.show_on.level_percent
        told = tuple((f"What arrives on {shown(name)}:", nodes) for name, nodes in strings)
        self.query_one(Arrived).see(told, FULL_PERCENT / level if level else 1.0)

    def _tell_alarm(self) -> None:
        is_dark = self._talk.status.state is State.DARK
        alarm = self._talk.alarm or (DARK if is_dark else "")
        place = self.query_one("#asking-alarm", Static)
        place.display = bool(alarm)
        place.update(Content.styled(shown(alarm), "bold $error"))

    def on_key(self, event: Key) -> None:
        """Take a digit as an answer."""
        keys = [key for key, _words in self._page.answers] if self._page else []
        if event.character in keys:
            event.stop()
            self._do(lambda session: session.answer(str(event.character)))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take what Enter or the mouse chose."""
        key = str(event.option.id)
        self._do(lambda session: session.answer(key))

    def action_undo(self) -> None:
        """Take back the last answer."""
        self._do(lambda session: session.undo())

    def action_skip(self) -> None:
        """Pass over what is asked about; in a search that is: cannot tell."""

        def skip(session: Session) -> None:
            if not session.skip() and self._page and ("0" in dict(self._page.answers)):
                session.answer("0")

        self._do(skip)

    def action_why(self) -> None:
        """Show the reasons in full."""
        if self._session is not None:
            self.app.push_screen(Words(tuple(reversed(self._session.why)), "Why"))

    def _do(self, what: Callable[[Session], object]) -> None:
        if self._session is None:
            return
        try:
            what(self._session)
        except RopewalkError as error:
            self._talk.note(str(error))
            self._tell_alarm()
        else:
            self._go_on()

    def on_unmount(self) -> None:
        """Give the lights back."""
        self._talk.give_back()
        if self._session is not None:
            self._session.close()
