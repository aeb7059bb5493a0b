"""How streams end, whatever the reason: dark, then terminated as the standard asks. Time is an argument.

The dark frame goes out as often as ANSI E1.31-2018 clause 6.6.2 asks of a change before silence (once
and three times more), then three packets with Stream_Terminated (clause 6.2.6). They are spread out a
little, so that one burst lost on the way does not lose them all.
"""

from streamer.display.slots import Indices
from streamer.engine.batch import Batch
from streamer.engine.cadence import REPEATS
from streamer.net.sender import Sender
from streamer.display.model import Protocol

TERMINATED_PACKETS = 3
GAP_S = 0.02


class Farewell:
    """The last packets of some rows of a batch."""

    def __init__(self, batch: Batch, rows: Indices, now_s: float) -> None:
        self._batch = batch
        self._rows = rows
        self._dark_left = REPEATS + 1
        self._terminated_left = TERMINATED_PACKETS if batch.protocol is Protocol.E131 else 0
        self.wake_s = now_s
        batch.darken()

    @property
    def is_over(self) -> bool:
        """Whether every last packet has been sent."""
        return not self._dark_left and not self._terminated_left

    def tick(self, sender: Sender, now_s: float) -> None:
        """Send what is due."""
        if self.is_over or now_s < self.wake_s:
            return
        if self._dark_left:
            self._dark_left -= 1
        else:
            self._batch.terminate()
            self._terminated_left -= 1
        self._batch.number(self._rows)
        sender.send(self._batch.packets, self._rows, self._batch.destinations)
        self.wake_s = now_s + GAP_S
