"""What the screen takes in of what the engine (and the yard) report: the newest, and words to be read.

It knows no Textual.
"""

from collections import deque
from dataclasses import dataclass, field

from pydantic import BaseModel

from streamer.engine.client import EngineLink
from streamer.engine.flash_limit import calmed
from streamer.engine.messages import (
    Calm,
    Ended,
    Plan,
    Refusal,
    Refused,
    Setup,
    Show,
    State,
    Status,
)
from streamer.errors import LinkError
from streamer.yard.client import YardLink
from streamer.yard.messages import Refused as YardRefused
from streamer.yard.messages import YardStatus
from tui.control import held_words
from tui.loan import Loan

WORDS_KEPT = 50
GONE = (
    "The engine has gone. If lights stay lit, take their power away; then quit and start again. Nothing can "
    "be asked of it any more."
)
YARD_GONE = "The yard has gone: arrivals are no longer known. The engine is not touched by that."


@dataclass
class Hearing:
    """What one engine and perhaps a yard have said."""

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
    _is_for_control: bool = False
    """Whether the last request was refused for want of control."""
    are_words_hidden: bool = False
    """Whether the last of the words was read and put out of sight; the next one is shown again."""
    is_engine_there: bool = True
    _waiting: list[BaseModel] = field(default_factory=list)
    _loan: Loan | None = None
    """Who has the lights for a while; what was chosen before stays as it was."""
    _aside: Setup | None = None
    """What was in hand before somebody else began a search or a walk: it comes back when that is over."""
    _is_told_by_yard: bool = False
    """Whether the yard has told what it shows since that look was up."""
    _is_note_ours: bool = False
    """Whether what the yard complains of was lit by whoever the lights were lent to."""
    is_stuck: bool = False
    """Whether every packet of late was refused: what is shown is not sent."""
    is_dark_ours: bool = False
    """Whether this screen has made dark, and neither lit again nor lost control since."""
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
    def is_held_elsewhere(self) -> bool:
        """Whether a run is on of which this screen does not hold control."""
        return self.is_playing and not self.status.yours

    @property
    def is_led_elsewhere(self) -> bool:
        """Whether the lights are lent to a search or walk that somebody else leads, until it is over."""
        return self._loan is None and self.is_playing and bool(self.plan and self.plan.setup.as_hung)

    @property
    def is_led(self) -> bool:
        """Whether the lights are lent to a search or walk, of this screen or another."""
        return self._loan is not None or self.is_led_elsewhere

    @property
    def is_hindered(self) -> bool:
        """Whether something keeps what is shown, or part of it, from being sent just now."""
        return self.is_stuck or self.status.carrier_lost or bool(self.status.complaints)

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
                self._is_for_control = self.is_held_elsewhere and report.why is Refusal.NO_CONTROL
                self._note(held_words(self.status.control) if self._is_for_control else report.reason)
                if not self.is_led:
                    self.show = self.status.show or self.show
            case Ended():
                self.ended = report
                for complaint in report.complaints:
                    if complaint not in self.words:
                        self._note(complaint)

    def _take_plan(self, plan: Plan) -> None:
        self.plan, self.ended = plan, None
        if self._loan is None and plan.setup.as_hung is not None:
            self._aside = self._aside or self.setup
            self._take_setup(plan.setup.model_copy(update={"display": plan.setup.as_hung, "as_hung": None}))
        elif self._loan is None or plan.setup == self.setup:
            self._aside = None
            self._take_setup(plan.setup)
            if self._loan and self._loan.is_back:
                self._loan = None

    def _take_setup(self, setup: Setup) -> None:
        """Take what is played; a display that is the one in hand stays the same object: so does the lane."""
        if self.setup is not None and self.setup.display == setup.display:
            setup = setup.model_copy(update={"display": self.setup.display})
        self.setup = self._calmed(setup)

    def _take_status(self, status: Status) -> None:
        is_first_of_run = status.plan != self.status.plan
        if self._loan and self._loan.is_back and status.state is State.IDLE:
            self._loan = None
        if status.state is State.IDLE and self._aside is not None:
            self.setup, self._aside = self._aside, None
        is_led = self._loan is not None or bool(self.plan and self.plan.setup.as_hung)
        if not is_led and status.show is not None and (is_first_of_run or not status.yours):
            # While this screen holds control its own newest wish stands, so that two quick changes add up.
            self.show = status.show
        for complaint in status.complaints:
            if complaint not in self.status.complaints:
                self._note(complaint)
                self.refusal = ""
        self.is_dark_ours &= status.yours or not self.status.yours
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
        if self.refusal and self._is_for_control and self.is_held_elsewhere:
            # A person has just pressed a key: that it did nothing, and why, comes first.
            return self.refusal
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

    def move_on(self) -> None:
        """Put what was refused out of the way, since something else is begun; the words keep it."""
        self.refusal = ""

    def _ask(self, request: BaseModel) -> None:
        if self.link is None:
            self._waiting.append(request)
        elif self.link.is_open:
            self.link.send(request)
        else:
            self._note(GONE)

    def _calmed(self, setup: Setup) -> Setup:
        return setup if self.flashes_wish is None else calmed(setup, self.flashes_wish)
