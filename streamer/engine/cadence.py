"""Which streams send, and when: level data that stands still is quiet. Time is an argument.

ANSI E1.31-2018 clause 6.6.2: level data is sent when it changes; before a source goes quiet it sends
three packets with the unchanged values, then one keep-alive every 800 to 1000 ms. Art-Net 4 asks for
a repeat every 4 s at the least and recommends the same 800 to 1000 ms, so both keep one cadence.
"""

import numpy as np
from numpy.typing import NDArray

from streamer.display.slots import Indices
from streamer.wire.e131 import KEEP_ALIVE_MAX_S, KEEP_ALIVE_MIN_S, REPEATS_BEFORE_QUIET

PACKETS_OF_A_CHANGE = 1 + REPEATS_BEFORE_QUIET
KEEP_ALIVE_S = (KEEP_ALIVE_MIN_S + KEEP_ALIVE_MAX_S) / 2
KEEP_ALIVE_EARLY_S = 0.02
"""A stream this close to its keep-alive sends with the frame at hand: one waking less of the process."""
NEVER_S = np.inf
"""When a stream was sent last that has not been: nothing of it is there to be kept alive."""
PUT_OFF_S = 0.02
"""How long keep-alives make way for a burst: they still come within 1000 ms of the last."""

NO_ROWS: Indices = np.zeros(0, np.intp)


class Cadence:
    """The sending times of so many streams."""

    def __init__(self, streams: int, *, every_frame: bool = False) -> None:
        self._to_send = np.full(streams, PACKETS_OF_A_CHANGE)
        self._sent_s = np.full(streams, NEVER_S)
        self._every = np.arange(streams)
        self._every_frame = every_frame
        self._is_quiet = False
        """Whether no stream has a change to send."""
        self.wake_s = NEVER_S
        """The moment at which the next keep-alive is due."""

    def at_frame(self, changed: NDArray[np.bool_] | None, now_s: float) -> Indices:
        """Return the streams that send with the frame at `now_s`; `changed` says whose slots did, if any."""
        has_all_changed = changed is not None and np.count_nonzero(changed) == len(changed)
        if changed is not None:
            self._to_send[changed] = PACKETS_OF_A_CHANGE
            self._is_quiet = False
        if has_all_changed or self._every_frame:
            return self._all_sent(now_s)
        if self._is_quiet and now_s < self.wake_s - KEEP_ALIVE_EARLY_S:
            return NO_ROWS
        return self._sent(np.flatnonzero((self._to_send > 0) | self._is_stale(now_s)), now_s)

    def has_sent(self, changed: NDArray[np.bool_] | None, rows: Indices, now_s: float) -> None:
        """Take it that these streams have sent with a frame at `now_s`, whatever would be due then.

        It was decided for the moment of the frame, and it went a little later.
        """
        if changed is not None:
            self._to_send[changed] = PACKETS_OF_A_CHANGE
            self._is_quiet = False
        if len(rows) == len(self._every):
            self._all_sent(now_s)
        else:
            self._sent(rows, now_s)

    def all_change(self, last_s: float) -> None:
        """Take it that some frames change every stream, the last of them at `last_s`."""
        self._to_send[:] = PACKETS_OF_A_CHANGE
        self._all_sent(last_s)

    def in_burst(self, changed: NDArray[np.bool_], now_s: float) -> Indices:
        """Return the streams that changed, to be sent now and once; what else is due makes way for them.

        Against clause 6.6.2, which asks for three repeats: they would bring what a burst has lost.
        """
        stale = self._is_stale(now_s) & ~changed
        self._sent_s[stale] = now_s + PUT_OFF_S - KEEP_ALIVE_S
        self._to_send[changed] = 1
        rows = self._sent(np.flatnonzero(changed), now_s)
        if not len(rows):
            # The burst is another protocol's; what was put off here is due later all the same.
            self._look_ahead()
        return rows

    def between_frames(self, now_s: float) -> Indices:
        """Return the streams whose keep-alive is due at `now_s`; at a few frames a second it is sooner."""
        return self._sent(np.flatnonzero(self._is_stale(now_s)), now_s)

    def copy(self) -> "Cadence":
        """Return another that stands where this one does."""
        other = Cadence.__new__(Cadence)
        vars(other).update(vars(self), _to_send=self._to_send.copy(), _sent_s=self._sent_s.copy())
        return other

    def go_on_from(self, before: "Cadence", there: Indices, here: Indices) -> None:
        """Keep the times of streams that were in rows `there` of `before` and are in rows `here` now."""
        self._to_send[here], self._sent_s[here] = before.state_of(there)
        self._look_ahead()

    def state_of(self, rows: Indices) -> tuple[NDArray[np.int_], NDArray[np.float64]]:
        """Return how many packets each row has still to send for its last change, and when it sent last."""
        return self._to_send[rows], self._sent_s[rows]

    def _is_stale(self, now_s: float) -> NDArray[np.bool_]:
        return now_s - self._sent_s >= KEEP_ALIVE_S - KEEP_ALIVE_EARLY_S

    def _all_sent(self, now_s: float) -> Indices:
        self._sent_s[:] = now_s
        np.maximum(self._to_send, 1, out=self._to_send)
        self._to_send -= 1
        self._is_quiet, self.wake_s = not np.count_nonzero(self._to_send), now_s + KEEP_ALIVE_S
        return self._every

    def _sent(self, rows: Indices, now_s: float) -> Indices:
        if len(rows):
            self._sent_s[rows] = now_s
            self._to_send[rows] = np.maximum(self._to_send[rows] - 1, 0)
            self._look_ahead()
        return rows

    def _look_ahead(self) -> None:
        self._is_quiet = not self._to_send.any()
        self.wake_s = float(self._sent_s.min(initial=NEVER_S)) + KEEP_ALIVE_S
