"""The lights lent for a while to whoever puts up looks, and what brings back what was on before.

What is dark stays dark, at the first look and at the last: whoever made it so may be at the wiring.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from streamer.engine.messages import Change, Dark, Jump, Play, Setup, Show, State, Status, Stop
from streamer.engine.rising import Rising


@dataclass(slots=True)
class Loan:
    """Who was on when the lights were lent, and the look that was put up last."""

    state: State
    step: int
    setup: Setup | None = None
    """What the last look was put up on; None before the first."""
    is_back: bool = False
    """Whether they were asked back: the engine has only to follow."""
    rising: Rising | None = None

    def put_up(self, setup: Setup, show: Show, step: int, now: Status) -> Iterator[BaseModel]:
        """Yield the requests that show a look; the first one takes the place of what was on."""
        is_new, state = self.setup is not setup, self.state if self.setup is None else now.state
        self.setup = setup
        self.rising = Rising(show, step, now.plan if is_new else None)
        yield Play(setup=setup, show=show) if is_new else Change(show=show)
        yield Jump(step=step)
        if is_new and state is State.DARK:
            yield Dark(on=True)

    def give_back(self, setup: Setup | None, show: Show, now: Status) -> Iterator[BaseModel]:
        """Yield the requests that put back what was on: `show` on `setup`, in hand or running, or nothing."""
        self.is_back = True
        if self.state in {State.IDLE, State.ENDING} or setup is None:
            yield Stop()
            return
        yield Play(setup=setup, show=show)
        if self.state is not State.RUNNING:
            yield Jump(step=self.step)
        if State.DARK in {self.state, now.state}:
            yield Dark(on=True)
