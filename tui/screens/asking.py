"""The asking sheet: a look on the lights, one big question, one key for the answer. It leads any session."""

from collections.abc import Awaitable, Callable, Iterable
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
from tui.asked_text import place_text, sure_text
from tui.leading import Leader, Moment
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
TIME_TO_SEE_S = 0.3
"""What a verdict offers is not chosen by a key that was meant for the look before."""
THINKING = "Thinking of everything that it may be..."
DARK = "Dark now. Space brings the look back."
EARLY = "That key came before the look was up, and did nothing. Look first, then answer."
NOTHING_TO_UNDO = "There is no answer to take back."
NOTHING_TO_SKIP = "There is nothing to pass over."
CANT_TELL = "0"
NONE_OF_THEM = "{} is none of the answers, and did nothing."


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
        self._talk, self._leader = talk, Leader(begin)
        self._moment: Moment | None = None
        self._is_thinking = self._is_closed = True
        """What is asked can be answered once it is on the lights and on the screen, and not before."""
        self._told = ""
        """Why the last key did nothing; "" if it did something."""
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
        self.watch(self.app, "news", self._follow)
        if self._talk.yard is not None:
            self.set_interval(1 / ARRIVALS_HZ, self._see_arrivals)
        self.run_worker(self._go_on(self._leader.begin()))

    async def _go_on(self, coming: Awaitable[Moment]) -> None:
        """Wait for what is asked next, and put it up."""
        before, was_closed = self._moment, self._is_closed
        self._is_thinking, self._told = True, ""
        self._close_answers()
        try:
            self._moment = moment = await coming
        except RopewalkError as error:
            self._talk.note(str(error))
            if before is None:
                self.query_one("#asking-place", Static).update(Content(shown(str(error))))
                return
            self._is_thinking = False
            if not was_closed:
                # The look is still up: nothing has changed.
                self._open_answers()
            return
        self._is_thinking = False
        if moment.look is not None:
            self._talk.put_up(moment.look.setup, moment.look.show, moment.look.step)
        else:
            self.set_timer(TIME_TO_SEE_S, self._open_answers)
        self._show(moment)
        self._tell_alarm()

    def _follow(self) -> None:
        """Take in the news: the look may be up by now."""
        moment = self._moment
        if self._is_closed and not self._is_thinking and moment and moment.look and self._talk.is_look_up:
            self._open_answers()
        self._tell_alarm()

    def _close_answers(self) -> None:
        self._is_closed = True
        self.query_one(OptionList).disabled = True
        self.query_one("#asking-question").set_class(True, "is-coming")

    def _open_answers(self) -> None:
        moment = self._moment
        if moment is None or self._is_thinking:
            return
        self._is_closed = False
        self.query_one("#asking-question").set_class(False, "is-coming")
        self.query_one("#asking-place", Static).update(place_text(moment.page, self._bar_cells))
        answers = self.query_one(OptionList)
        answers.disabled = False
        if moment.page.answers:
            answers.focus(scroll_visible=False)
        self._tell_alarm()

    def _show(self, moment: Moment) -> None:
        page = moment.page
        self.query_one("#asking-place", Static).update(place_text(page, self._bar_cells))
        cells = self.query_one(Cells)
        cells.nodes = moment.cells
        cells.display = moment.cells is not None and not page.outcome
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
        sure.update(sure_text(page, is_short=is_short))

    def _offer(self, page: Page) -> None:
        answers = self.query_one(OptionList)
        answers.clear_options()
        answers.add_options(
            Option(Content.assemble((f" {key} ", "bold $accent"), f" {shown(words)}"), id=key)
            for key, words in page.answers
        )
        answers.display = bool(page.answers)
        answers.set_class(bool(page.outcome), "is-after")
        # Without answers the arrows scroll the outcome.
        body = self.query_one(VerticalScroll)
        body.can_focus = not page.answers
        body.scroll_home(animate=False)
        if page.answers:
            answers.highlighted = 0
        else:
            body.focus()

    @property
    def _bar_cells(self) -> int:
        return BAR_CELLS if self.app.size.width >= NARROW else SHORT_BAR_CELLS

    def _see_arrivals(self) -> None:
        """Show what the yard shows of the strings in question: one can practise without any lights.

        While the look is on its way, the yard shows the one before, which may belong to another port.
        """
        talk, moment, arrived = self._talk, self._moment, self.query_one(Arrived)
        if talk.arrivals is None or talk.setup is None or moment is None:
            return
        strings = self._arriving.look(talk.arrivals, talk.setup.display, moment.page.watched)
        level = talk.show_on.level_percent
        scale = ", a cell a node" if self.app.size.width >= NARROW else ""
        told = tuple((f"What arrives on {shown(name)}{scale}:", nodes) for name, nodes in strings)
        arrived.see(told, FULL_PERCENT / level if level else 1.0)
        arrived.visible = not self._is_closed

    def _tell_alarm(self) -> None:
        is_dark = self._talk.status.state is State.DARK
        alarm = "\n".join(filter(None, (self._talk.alarm or (DARK if is_dark else ""), self._told)))
        place = self.query_one("#asking-alarm", Static)
        place.display = bool(alarm)
        place.update(Content.styled(shown(alarm), "bold $error"))

    def on_key(self, event: Key) -> None:
        """Take a key as an answer to what is asked on the screen, or say why it is none."""
        key = event.character or ""
        known = [each for each, _words in self._moment.page.answers] if self._moment else []
        if self._is_closed:
            if key in known or key.isdecimal() or event.key == "enter":
                event.stop()
                self._tell(EARLY)
        elif key in known:
            event.stop()
            self._do(lambda session: session.answer(key))
        elif key.isdecimal() and known:
            event.stop()
            self._tell(NONE_OF_THEM.format(key))

    def _tell(self, why: str) -> None:
        self._told = why
        self._tell_alarm()

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take what Enter or the mouse chose."""
        key = str(event.option.id)
        if self._is_closed:
            self._tell(EARLY)
        else:
            self._do(lambda session: session.answer(key))

    def action_undo(self) -> None:
        """Take back the last answer."""
        self._do(lambda session: session.undo(), NOTHING_TO_UNDO)

    def action_skip(self) -> None:
        """Pass over what is asked about; in a search that is: cannot tell."""
        answers = dict(self._moment.page.answers) if self._moment else {}

        def skip(session: Session) -> bool:
            if session.skip():
                return True
            if CANT_TELL in answers:
                session.answer(CANT_TELL)
            return CANT_TELL in answers

        if self._is_closed:
            self._tell(EARLY)
        else:
            self._do(skip, NOTHING_TO_SKIP)

    def action_why(self) -> None:
        """Show the reasons in full."""
        self.run_worker(self._tell_why())

    async def _tell_why(self) -> None:
        lines = await self._leader.why()
        if lines:
            self.app.push_screen(Words(tuple(reversed(lines)), "Why"))

    def _do(self, step: Callable[[Session], bool | None], unless: str = "") -> None:
        """Take a step; where it returns False nothing was done, and why is told."""
        if self._is_thinking:
            self._tell(EARLY)
            return

        def taken(session: Session) -> None:
            if step(session) is False:
                self._told = unless

        self._is_thinking = True
        self.run_worker(self._go_on(self._leader.take(taken)))

    def on_unmount(self) -> None:
        """Give the lights back."""
        self._talk.give_back()
        self._leader.close()
