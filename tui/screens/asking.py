"""The asking sheet: a look on the lights, one big question, one key for the answer. It leads any session."""

from collections.abc import Awaitable, Callable, Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Static

from streamer.engine.messages import State
from streamer.errors import RopewalkError
from tui.arriving import Arriving
from tui.leading import Leader, Moment
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.screens.words import Words
from tui.session import Session
from tui.talk import Talk
from tui.widgets.answers import Answers
from tui.widgets.asked import Asked

ARRIVALS_HZ = 8
FULL_PERCENT = 100
TIME_TO_SEE_S = 0.3
"""What a verdict offers is not chosen by a key that was meant for the look before."""
DARK = "Dark now. Space brings the look back."
EARLY = "That came before the look was up, and did nothing. Look first, then answer."
NOTHING_TO_UNDO = "There is no answer to take back."
NOTHING_TO_SKIP = "There is nothing to pass over."
CANT_TELL = "0"
UNCHOSEN = "Enter did nothing: choose an answer with ↑ and ↓ first, or press its number."
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
        Binding("e", "app.words", "Errors", show=False),
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
        """Return the page: the place, the picture, the question and the answers."""
        self._asked = Asked(has_yard=self._talk.yard is not None)
        yield self._asked

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
        self._is_thinking = True
        self._close_answers()
        try:
            moment = await coming
        except RopewalkError as error:
            if not self._is_there:
                return
            self._talk.note(str(error))
            if before is None:
                self._asked.tell(str(error))
                return
            self._is_thinking = False
            if not was_closed:
                # The look is still up: nothing has changed.
                self._open_answers()
            return
        if not self._is_there:
            return
        self._moment, self._is_thinking = moment, False
        if moment.look is not None:
            self._talk.put_up(moment.look.setup, moment.look.show, moment.look.step)
        else:
            self.set_timer(TIME_TO_SEE_S, self._open_answers)
        self._show(moment)
        self._tell_alarm()

    @property
    def _is_there(self) -> bool:
        """Whether it has not been left. Its parts go one by one then, and the lights are given back."""
        return self in self.app.screen_stack

    def _follow(self) -> None:
        """Take in the news: the look may be up by now."""
        if not self._is_there:
            return
        moment = self._moment
        if self._is_closed and not self._is_thinking and moment and moment.look and self._talk.is_look_up:
            self._open_answers()
        self._tell_alarm()

    def _close_answers(self) -> None:
        self._is_closed = True
        self._asked.set_closed(True)

    def _open_answers(self) -> None:
        moment = self._moment
        if moment is None or self._is_thinking or not self._is_there:
            return
        self._is_closed = False
        self._asked.set_closed(False)
        self._asked.place(moment.page)
        self._see_arrivals()
        if moment.page.answers:
            self.query_one(Answers).focus(scroll_visible=False)
        self._tell_alarm()

    def _show(self, moment: Moment) -> None:
        page = moment.page
        self._asked.show(page, moment.cells)
        if page.title:
            self.query_one(".sheet-title", Static).update(Content(shown(page.title)))

    def _see_arrivals(self) -> None:
        """Show what the yard shows of the strings in question: one can practise without any lights.

        While the look is on its way, the yard shows the one before, which may belong to another port.
        """
        talk, moment = self._talk, self._moment
        if talk.arrivals is None or talk.setup is None or moment is None or not self._is_there:
            return
        strings = self._arriving.look(talk.arrivals, talk.setup.display, moment.page.watched)
        level = talk.show_on.level_percent
        self._asked.see(strings, FULL_PERCENT / level if level else 1.0)

    def _tell_alarm(self) -> None:
        is_dark = self._talk.status.state is State.DARK
        alarm, is_there = self._talk.alarm, self._talk.is_engine_there
        above_all = (DARK if is_dark and not alarm else "") if is_there else alarm
        self._asked.alarm(alarm if is_there else "", "\n".join(filter(None, (above_all, self._told))))

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

    def on_option_list_option_selected(self, event: Answers.OptionSelected) -> None:
        """Take what Enter or the mouse chose."""
        key = str(event.option.id)
        if self._is_closed:
            self._tell(EARLY)
        else:
            self._do(lambda session: session.answer(key))

    def on_answers_unchosen(self) -> None:
        """Say how an answer is chosen."""
        self._tell(UNCHOSEN)

    def on_answers_closed(self) -> None:
        """Say why the answer that was chosen is none."""
        self._tell(EARLY)

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

        self._is_thinking, self._told = True, ""
        self.run_worker(self._go_on(self._leader.take(taken)))

    def on_unmount(self) -> None:
        """Give the lights back."""
        self._talk.give_back()
        self._leader.close()
