"""What the screen and the engine (and the yard) say to each other: the newest reports, and the requests.

It knows no Textual. Whatever a person asks goes to the engine as it is; the engine says whether it may be.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field

from pydantic import BaseModel, ValidationError

from streamer.display.model import Display
from streamer.engine.client import EngineLink
from streamer.engine.flash_limit import calmed, flash_limit
from streamer.engine.messages import (
    Calm,
    Change,
    Dark,
    Ended,
    Jump,
    Leash,
    Loosen,
    Pause,
    Plan,
    Play,
    Refused,
    Setup,
    Show,
    State,
    Status,
    Step,
    Stop,
    TakeControl,
)
from streamer.errors import LinkError
from streamer.flash_rule import FLASHES_PER_S
from streamer.yard.client import YardLink
from streamer.yard.faults import Fault
from streamer.yard.messages import Refused as YardRefused
from streamer.yard.messages import SetFaults, YardStatus
from tui.loan import Loan

WORDS_KEPT = 50
GONE = (
    "The engine has gone. If lights stay lit, take their power away; then quit and start again. Nothing can "
    "be asked of it any more."
)
YARD_GONE = "The yard has gone: arrivals are no longer known. The engine is not touched by that."


@dataclass
class Talk:
    """The conversation with one engine and perhaps a yard."""

    link: EngineLink | None
    """None while the engine is still coming up; what is asked meanwhile it is asked then."""
    setup: Setup | None
    show: Show
    yard: YardLink | None = None
    status: Status = field(default_factory=lambda: Status(state=State.IDLE, show=None))
    plan: Plan | None = None
    ended: Ended | None = None
    arrivals: YardStatus | None = None
    words: deque[str] = field(default_factory=lambda: deque(maxlen=WORDS_KEPT))
    """What went wrong or was refused, the newest last."""
    refusal: str = ""
    """The last of the words, while it is nothing that the engine will say is over."""
    are_words_hidden: bool = False
    """Whether the last of the words was read and put out of sight; the next one is shown again."""
    is_engine_there: bool = True
    _waiting: list[BaseModel] = field(default_factory=list)
    _loan: Loan | None = None
    """Who has the lights for a while; what was chosen before stays as it was."""
    _is_told_by_yard: bool = False
    """Whether the yard has told what it shows since that look was up."""
    _is_note_ours: bool = False
    """Whether what the yard complains of was lit by whoever the lights were lent to."""
    is_stuck: bool = False
    """Whether every packet of late was refused: what is shown is not sent."""
    flashes_wish: int | None = None
    """How many flashes in a second this person wants at most, of any run that this screen controls."""

    def __post_init__(self) -> None:
        """Keep to what the first setup asks for."""
        if self.setup is not None:
            self.flashes_wish = self.setup.flashes_per_s

    @property
    def is_playing(self) -> bool:
        """Whether a run is on."""
        return self.status.state not in {State.IDLE, State.ENDING}

    @property
    def show_on(self) -> Show:
        """What is on the lights: the person's own show, or the look of whoever they are lent to."""
        return self.status.show or self.show if self._loan else self.show

    @property
    def is_look_up(self) -> bool:
        """Whether the look put up last can be seen: on the lights, and in the yard if there is one."""
        if not self._has_risen or self.is_stuck:
            return False
        return self.yard is None or self._is_told_by_yard

    @property
    def _has_risen(self) -> bool:
        return bool(self._loan and self._loan.rising and self._loan.rising.is_up)

    def hear(self) -> bool:
        """Take in what the engine has reported; returns whether anything is new."""
        if self.link is None:
            return False
        before = (self.status, len(self.words), self.is_engine_there)
        self.link.flush()
        reports = self._receive(self.link)
        others = [report for report in reports if not isinstance(report, Status)]
        for report in reports:
            self._take_in(report)
        if not self.link.is_open and self.is_engine_there:
            self.is_engine_there = False
            self.link.close()
            self._note(GONE)
        return bool(others) or before != (self.status, len(self.words), self.is_engine_there)

    def hear_yard(self) -> bool:
        """Take in what the yard has reported; returns whether anything is new."""
        if self.yard is None:
            return False
        before = (self.arrivals, len(self.words), self.is_look_up)
        for report in self._receive(self.yard):
            if isinstance(report, YardStatus):
                self._is_told_by_yard = self._has_risen
                # A search lights the neighbours' universes on purpose; the yard tells of that a while longer.
                self._is_note_ours = self._loan is not None or (self._is_note_ours and bool(report.note))
                if not self._is_note_ours:
                    self._note(report.note)
                self.arrivals = report
            elif isinstance(report, YardRefused):
                self._note(report.reason)
        if not self.yard.is_open:
            self.yard.close()
            self.yard, self.arrivals = None, None
            self._note(YARD_GONE)
        return before != (self.arrivals, len(self.words), self.is_look_up)

    def _receive(self, link: EngineLink | YardLink) -> list[BaseModel]:
        try:
            return list(link.receive())
        except LinkError as error:
            self._note(str(error))
            return []

    def _take_in(self, report: BaseModel) -> None:
        match report:
            case Status():
                self._take_status(report)
            case Plan():
                self._take_plan(report)
            case Refused():
                self._note(report.reason)
                if self._loan is None:
                    self.show = self.status.show or self.show
            case Ended():
                self.ended = report
                for complaint in report.complaints:
                    if complaint not in self.words:
                        self._note(complaint)

    def _take_plan(self, plan: Plan) -> None:
        self.plan, self.ended = plan, None
        if self._loan is None or plan.setup == self.setup:
            self.setup = self._calmed(plan.setup)
            if self._loan and self._loan.is_back:
                self._loan = None

    def _take_status(self, status: Status) -> None:
        is_first_of_run = status.plan != self.status.plan
        if self._loan and self._loan.is_back and status.state is State.IDLE:
            self._loan = None
        if self._loan is None and status.show is not None and (is_first_of_run or not status.yours):
            # While this screen holds control its own newest wish stands, so that two quick changes add up.
            self.show = status.show
        for complaint in status.complaints:
            if complaint not in self.status.complaints:
                self._note(complaint)
                self.refusal = ""
        before, now = self.status.counts, status.counts
        if is_first_of_run or now.packets != before.packets:
            self.is_stuck = False
        elif sum(now.errors.values()) > sum(before.errors.values()):
            self.is_stuck = True
        self.status = status
        if self._loan and self._loan.rising:
            self._loan.rising.hear(status)
        wish = self.flashes_wish
        if wish is not None and status.yours and self.is_playing and status.flashes_per_s > wish:
            # A run that was on before, or another's: the wish is older than its plan.
            self._ask(Calm(flashes_per_s=wish))

    def _note(self, text: str) -> None:
        if not text:
            return
        self.are_words_hidden, self.refusal = False, text
        if not self.words or self.words[-1] != text:
            self.words.append(text)

    @property
    def alarm(self) -> str:
        """What is to be read now: what is wrong at this moment, or else what was refused last."""
        if not self.is_engine_there:
            return GONE
        if self.are_words_hidden:
            return ""
        wrong = self.status.complaints
        more = f". {len(wrong) - 1} more" if len(wrong) > 1 else ""
        return f"{wrong[0]}{more}" if wrong else self.refusal

    def keep(self, text: str) -> None:
        """Keep a line among the words without raising it: something else shows it."""
        if text not in list(self.words)[-1:]:
            self.words.append(text)

    def note(self, text: str) -> None:
        """Keep a line for the person to read, beside those of the engine."""
        self._note(text)

    def _ask(self, request: BaseModel) -> None:
        if self.link is None:
            self._waiting.append(request)
        elif self.link.is_open:
            self.link.send(request)
        else:
            self._note(GONE)

    def play(self) -> None:
        """Ask for the run; without a display there is nothing to ask for."""
        if self.setup is None:
            self._note("There is no display yet. Press d and choose a file or universes.")
        else:
            self._ask(Play(setup=self.setup, show=self.show))

    def change(self, **wishes: object) -> bool:
        """Wish for a different show; a run in progress changes at once. False if it cannot be."""
        try:
            wished = Show(**{**self.show.model_dump(), **wishes})
        except ValidationError as error:
            self._note("; ".join(f"{each['loc'][0]}: {each['msg']}" for each in error.errors()))
            return False
        if wished != self.show:
            self.show = wished
            if self.is_playing:
                self._ask(Change(show=wished))
        return True

    def step(self, by: int) -> None:
        """Ask for steps forward or back."""
        self._ask(Step(by=by))

    def jump(self, step: int) -> None:
        """Ask for one step, from 0."""
        self._ask(Jump(step=step))

    def pause(self, *, on: bool) -> None:
        """Ask to hold the pattern in hand, or to let it run."""
        self._ask(Pause(on=on))

    def toggle_dark(self) -> None:
        """Ask for darkness, or for the lights back."""
        self._ask(Dark(on=self.status.state is not State.DARK))

    def stop(self) -> None:
        """Ask for the end of the run."""
        self._ask(Stop())

    def take(self) -> None:
        """Ask for control."""
        self._ask(TakeControl())

    def toggle_leash(self) -> None:
        """Ask for the other leash."""
        self.loosen(Leash.LEASHED if self.leash is Leash.FREE else Leash.FREE)

    def loosen(self, leash: Leash) -> None:
        """Ask for this leash, now and for the next run."""
        if self.setup is not None:
            self.setup = self.setup.model_copy(update={"leash": leash})
        self._ask(Loosen(leash=leash))

    def calm(self, flashes_per_s: int) -> None:
        """Ask for so many flashes in a second at most, now and for the next run."""
        self.flashes_wish = flashes_per_s
        self.setup = self.setup and self._calmed(self.setup)
        if self.is_playing:
            self._ask(Calm(flashes_per_s=flashes_per_s))

    def _calmed(self, setup: Setup) -> Setup:
        return setup if self.flashes_wish is None else calmed(setup, self.flashes_wish)

    @property
    def flashes_per_s(self) -> int:
        """How many flashes in a second a light may have: in the run, else in the next one."""
        if self.is_playing:
            return self.status.flashes_per_s
        return flash_limit(self.setup) if self.setup else self.flashes_wish or FLASHES_PER_S

    @property
    def leash(self) -> Leash:
        """What becomes of the run when nobody is attached."""
        return self.setup.leash if self.setup is not None else Leash.LEASHED

    def set_faults(self, port: str, faults: tuple[Fault, ...]) -> None:
        """Ask the yard for these faults on a port."""
        if self.yard is not None:
            self.yard.send(SetFaults(port=port, faults=faults))

    def lend(self) -> None:
        """Remember what is on, until `give_back`: others put up looks meanwhile."""
        self._loan = Loan(self.status.state, self.status.step)

    def put_up(self, setup: Setup, show: Show, step: int) -> None:
        """Show a look of whoever the lights are lent to; the first one takes the place of what was on."""
        if self._loan is None:
            return
        self._is_told_by_yard = False
        for request in self._loan.put_up(setup, show, step, self.status):
            self._ask(request)

    def give_back(self) -> None:
        """Put back what was on, in hand or running or idle; what is dark by then stays dark."""
        if self._loan is None or self._loan.setup is None:
            self._loan = None
            return
        for request in self._loan.give_back(self.setup, self.show, self.status):
            self._ask(request)

    def take_anew(self, display: Display) -> None:
        """Take the display as it now stands in its file; whatever is on goes on."""
        if self.setup is not None:
            self.setup = self.setup.model_copy(update={"display": display})

    def choose(self, setup: Setup) -> None:
        """Take another display for the next run; the run of the old one is ended first."""
        if self.is_playing:
            self.stop()
        self.setup, self.are_words_hidden = self._calmed(setup), True
        self.show = self.show.model_copy(update={"ports": None})

    def pattern_with(self, name: str, params: Mapping[str, int | float | bool | str]) -> bool:
        """Wish for this pattern; returns whether that can be."""
        return self.change(pattern=name, params=dict(params), pace=None)

    def meet(self, link: EngineLink) -> None:
        """Talk to this engine, which has come up."""
        self.link = link
        for request in self._waiting:
            self._ask(request)
        self._waiting.clear()

    def close(self) -> None:
        """Detach from both."""
        if self.link is not None:
            self.link.close()
        if self.yard is not None:
            self.yard.close()
