"""The actions on the lights: start, dark, stop, steps, level and pace. Each only asks the engine."""

import asyncio
from collections.abc import Callable

from streamer.engine.messages import Setup, State
from streamer.errors import RopewalkError
from tui import cautions
from tui.base import Base
from tui.control import FOUND_DARK, darkened_words, lighting_words, taken_words
from tui.rivals import in_the_way
from tui.screens.ask import Ask
from tui.widgets.dial import Dial

LEVEL_TURN_PERCENT = 5
FULL_PERCENT = 100
PACE_FACTOR = 1.5
SLOWEST_PACE = 0.25
TEN = 10


class Lights(Base):
    """Does what is done to the lights."""

    _agreed: frozenset[str] = frozenset()

    def with_agreement(
        self, what: str, question: str, then: Callable[[], None], otherwise: Callable[[], None] | None = None
    ) -> None:
        """Do `then`; the first time, only after the question called `what` was answered with yes."""

        def answered(is_agreed: bool | None) -> None:  # noqa: FBT001  Textual passes the answer so
            if is_agreed:
                self._agreed |= {what}
                then()
            elif otherwise is not None:
                otherwise()

        if what in self._agreed:
            then()
        else:
            self.push_screen(Ask(what, question), answered)

    def wish_level(self, percent: float, dial: Dial | None = None) -> None:
        """Wish for a level; above full power it is asked first, and a dial turns back on no."""
        before = self.talk.show.level_percent

        def change() -> None:
            self.talk.change(level_percent=max(0.0, min(float(FULL_PERCENT), percent)))
            self.tell()

        def turn_back() -> None:
            if dial is not None:
                dial.value = before
                dial.refresh()

        if percent > cautions.FULL_POWER_PERCENT >= before and self.talk.is_playing:
            self.with_agreement(
                "Full power", f"Level {percent:g} %. {cautions.FULL_POWER}", change, turn_back
            )
        else:
            change()

    def with_all_agreed(self, level: float, pattern: str, then: Callable[[], None]) -> None:
        """Do `then` after the cautions, full power, and a rival in the way, each where it applies."""
        setup = self.talk.setup

        def alone() -> None:
            if setup is None:
                then()
            else:
                self.run_worker(self._when_alone(setup, pattern, then), exclusive=True, group="alone")

        self.with_cautions(level, alone)

    def with_cautions(self, level: float, then: Callable[[], None]) -> None:
        """Do `then` after the cautions and full power, each where it applies."""
        setup = self.talk.setup

        def power() -> None:
            if level > cautions.FULL_POWER_PERCENT:
                self.with_agreement("Full power", f"Level {level:g} %. {cautions.FULL_POWER}", then)
            else:
                then()

        if setup is not None and cautions.is_real(setup):
            self.with_agreement("Before the lights", cautions.text(), power)
        else:
            power()

    async def _when_alone(self, setup: Setup, pattern: str, then: Callable[[], None]) -> None:
        """Do `then`, asking first where another run of this user sends to the same place."""
        own = self.talk.link.name if self.talk.link else ""
        try:
            rival, words = await asyncio.to_thread(in_the_way, setup, pattern, own)
        except RopewalkError as error:
            self.talk.note(str(error))
            self.tell()
            return
        if rival:
            self.with_agreement(f"Beside {rival}", words, then)
        else:
            then()

    def action_start(self) -> None:
        """Ask for the run, after the cautions and full power where they apply."""
        talk = self.talk

        def play() -> None:
            talk.play()
            self.tell()

        self.with_all_agreed(talk.show.level_percent, talk.show.pattern, play)

    def action_dark(self) -> None:
        """All dark, never refused for want of control; or back, which is asked where another made it dark."""
        talk = self.talk
        is_dark = talk.status.state is State.DARK
        if not talk.is_held_elsewhere and (talk.is_dark_ours or not is_dark):
            talk.toggle_dark()
        elif not is_dark:
            words = darkened_words(talk.status.control, is_hindered=talk.is_hindered)
            talk.darken()
            self._say(words)
        elif not isinstance(self.screen, Ask):
            words = FOUND_DARK if talk.status.yours else lighting_words(talk.status.control)
            self.push_screen(Ask("Light it again?", words), self._light_again)
        self.tell()

    def _say(self, words: str) -> None:
        """Show words at once, whatever else is wrong, and keep them."""
        if words:
            self.talk.keep(words)
            self.notify(words, markup=False)

    def _light_again(self, is_agreed: bool | None) -> None:  # noqa: FBT001  Textual passes the answer so
        if is_agreed:
            self.talk.lighten()
            self.tell()

    action_dark_by_space = action_dark

    def action_take(self) -> None:
        """Take control, and say what that means for whoever held it."""
        words = taken_words(self.talk.status.control) if self.talk.is_held_elsewhere else ""
        self.talk.take()
        self._say(words)

    def action_hold(self) -> None:
        """Hold the pattern in hand."""
        self.talk.pause(on=True)

    def action_run(self) -> None:
        """Let it run."""
        self.talk.pause(on=False)

    def action_stop(self) -> None:
        """End the run."""
        self.talk.stop()

    def action_step_next(self) -> None:
        """One step on."""
        self.talk.step(1)

    def action_step_back(self) -> None:
        """One step back."""
        self.talk.step(-1)

    def action_next_ten(self) -> None:
        """Ten steps on."""
        self.talk.step(TEN)

    def action_back_ten(self) -> None:
        """Ten steps back."""
        self.talk.step(-TEN)

    def action_first(self) -> None:
        """To the first step."""
        self.talk.jump(0)

    def action_jump(self) -> None:
        """To the step that was typed; people count from 1."""
        typed, self.typed = self.typed, ""
        step, steps = int(typed or 1), self.talk.status.steps
        if 1 <= step <= steps:
            self.talk.jump(step - 1)
        else:
            self.talk.note(f"There is no {step}: it goes from 1 to {steps}.")
            self.tell()

    def action_forget(self) -> None:
        """Forget the digits typed."""
        self.typed = ""

    def action_follow(self) -> None:
        """Follow the light; put the last error out of sight."""
        self.talk.are_words_hidden = True
        self.lane.look_at(self.lane.picture.cursor, None)
        self.tell()

    def action_brighter(self) -> None:
        """Level up."""
        self.wish_level(self.talk.show.level_percent + LEVEL_TURN_PERCENT)

    def action_dimmer(self) -> None:
        """Level down."""
        self.wish_level(self.talk.show.level_percent - LEVEL_TURN_PERCENT)

    def action_faster(self) -> None:
        """More steps a second."""
        self._wish_pace(PACE_FACTOR)

    def action_slower(self) -> None:
        """Fewer steps a second."""
        self._wish_pace(1 / PACE_FACTOR)

    def _wish_pace(self, factor: float) -> None:
        from patterns.plain import PatternError
        from patterns.registry import get

        try:
            pattern = get(self.talk.show.pattern)
        except PatternError as error:
            self.talk.note(str(error))
        else:
            pace = self.talk.status.pace if self.talk.is_playing else (self.talk.show.pace or pattern.pace)
            wished = min(pattern.pace_limit, max(SLOWEST_PACE, pace * factor))
            self.talk.change(pace=round(wished, 2))
        self.tell()
