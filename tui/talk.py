"""What the screen asks of the engine (and the yard), beside what it hears of them.

It knows no Textual. Whatever a person asks goes to the engine as it is; the engine says whether it may be.
"""

from collections.abc import Mapping

from pydantic import ValidationError

from streamer.display.model import Display
from streamer.engine.client import EngineLink
from streamer.engine.flash_limit import flash_limit
from streamer.engine.messages import (
    Calm,
    Change,
    Dark,
    Jump,
    Leash,
    Loosen,
    Pause,
    Play,
    Setup,
    Show,
    State,
    Step,
    Stop,
    TakeControl,
)
from streamer.flash_rule import FLASHES_PER_S
from streamer.yard.faults import Fault
from streamer.yard.messages import SetFaults
from tui.hearing import Hearing
from tui.loan import Loan


class Talk(Hearing):
    """The conversation with one engine and perhaps a yard."""

    @property
    def show_on(self) -> Show:
        """What is on the lights: the person's own show, or the look of whoever they are lent to."""
        return self.status.show or self.show if self.is_led else self.show

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
            wrong = ", ".join(f"{each['loc'][0]} as {each['input']!r}" for each in error.errors())
            self._note(f"That cannot be shown: {wrong}.")
            return False
        if wished != self.show:
            self.show = wished
            if self.is_led_elsewhere and self.setup is not None:
                # What is played is laid out for the looks of another.
                self._ask(Play(setup=self.setup, show=wished))
            elif self.is_playing:
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
        if self.status.state is State.DARK:
            self.is_dark_ours = False
            self._ask(Dark(on=False))
        else:
            # Somebody may have taken control since the last status: dark is not refused for that.
            self.darken()

    def stop(self) -> None:
        """Ask for the end of the run."""
        self._ask(Stop())

    def take(self) -> None:
        """Ask for control."""
        self._ask(TakeControl())

    def darken(self) -> None:
        """Ask for darkness at once, whoever holds control."""
        self.is_dark_ours = True
        self._ask(TakeControl())
        self._ask(Dark(on=True))

    def lighten(self) -> None:
        """Ask for the lights back, whoever made them dark."""
        self.is_dark_ours = False
        self._ask(TakeControl())
        self._ask(Dark(on=False))

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
