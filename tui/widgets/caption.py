"""The line under the lantern, in plain words: what is shown, how bright, how fast; or what is typed."""

from textual.content import Content

from streamer.engine.messages import State
from tui.plain import shown
from tui.widgets.told import Told

MARGIN = 2
LOOK = "picture"
"""The pattern of a search's looks."""


class Caption(Told):
    """State, pattern and its own line, always in full; level, pace and rate beside it or below."""

    def tell(self) -> Content:
        """Return the line."""
        typed = self.host.typed
        if typed:
            return Content.assemble(
                (f"Go to {typed}▁", "bold $accent"), ("  Enter goes, Esc forgets it", "$quiet")
            )
        left, right = self._what(), self._how()
        room = self.size.width - len(right)
        between = " " * (room - len(left)) if len(left) + MARGIN <= room else "\n"
        return Content.assemble((left, "bold"), between, (right, "$quiet"))

    def _what(self) -> str:
        talk = self.talk
        if not talk.is_engine_there:
            return "Gone: the engine no longer answers."
        status = talk.status
        stuck = ", but a cable is out" if status.carrier_lost else ""
        stuck = ", but nothing gets out" if talk.is_stuck and talk.is_playing else stuck
        state = str(status.state).capitalize()
        if status.state is State.DARK:
            state, stuck = f"Dark{stuck}; Space lights it again, arrows step unseen", ""
        if talk.is_playing or status.state is State.ENDING:
            return f"{state}{stuck}: {self._showing()}"
        if talk.setup is None:
            return "Idle: nothing chosen yet. Enter chooses."
        ended = f" The last run ended: {shown(talk.ended.reason)}" if talk.ended else ""
        return f"Idle: Enter starts {shown(talk.show_on.pattern)} on {shown(talk.setup.display.name)}.{ended}"

    def _showing(self) -> str:
        """Return what is on: of a search no pattern's own line, which counts what no string has."""
        talk = self.talk
        pattern = talk.show_on.pattern
        if talk.is_led_elsewhere:
            doing = "is searching for a fault" if pattern == LOOK else "goes through the display"
            return f"{shown(talk.status.control) or 'somebody'} {doing}"
        if talk.is_led and pattern == LOOK:
            return "a look of this search"
        return shown(f"{pattern}, {talk.status.now_showing}" if talk.status.now_showing else pattern)

    def _how(self) -> str:
        talk = self.talk
        show = talk.show_on
        pace = talk.status.pace if talk.is_playing else show.pace
        paced = "" if pace is None else f"{pace:g} steps/s  "
        return f"level {show.level_percent:g} %  {paced}{show.rate_hz:g} Hz"
