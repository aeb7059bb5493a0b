"""Which hosts have been sent to lately, so that a cold one gets one packet before it gets many.

While a host's hardware address is asked for (RFC 826 ARP, RFC 4861 neighbour discovery) the kernel keeps some
packets for it and drops the rest without a word: measured, 704 of the first 1,000. Time is an argument.
"""

import numpy as np
from numpy.typing import NDArray

from streamer.net.destinations import is_group, is_loopback

WARMING_S = 0.020
"""Answers come within a millisecond or two on a cable; the next frame at 40 Hz is later than this."""
SILENT_S = 30.0
"""RFC 4861 clause 10, REACHABLE_TIME: after that the kernel no longer takes an address for confirmed."""
CHECK_EACH_S = 5.0
"""How long what was found warm is taken to be warm: a good deal less than SILENT_S."""
NEVER_S = -np.inf
ALWAYS_WARM = 0
"""The number of all that have no hardware address to be asked for."""
INITIAL_ROOM = 64

Numbers = NDArray[np.intp]
Warm = tuple[float, int]
"""Until when some hosts are taken to be warm, unless the count of changes has grown."""
NEVER_WARM: Warm = (NEVER_S, 0)


class Hosts:
    """Hosts by number, and when each was first and last sent to."""

    def __init__(self) -> None:
        self._number_of: dict[str, int] = {}
        self._first_s = np.full(INITIAL_ROOM, NEVER_S)
        self._last_s = np.full(INITIAL_ROOM, NEVER_S)
        self.changes = 0
        """Grows when a host that was warm is so no longer."""

    def number_of(self, address: str) -> int:
        """Return the number of a host; groups and loopback share one, which is always warm."""
        if is_loopback(address) or is_group(address):
            return ALWAYS_WARM
        number = self._number_of.setdefault(address, len(self._number_of) + 1)
        if number >= len(self._last_s):
            room = np.full(len(self._last_s), NEVER_S)
            self._first_s = np.concatenate([self._first_s, room])
            self._last_s = np.concatenate([self._last_s, room])
        return number

    def may_go(self, of_row: Numbers, now_s: float) -> NDArray[np.bool_]:
        """Say which of these packets may go at `now_s`, given the host's number of each, and note that.

        Of a host that is cold, or was until a moment ago, that is the first packet alone.
        """
        hosts, firsts = np.unique(of_row, return_index=True)
        is_cold = now_s - self._last_s[hosts] > SILENT_S
        self._first_s[hosts[is_cold]] = now_s
        self._last_s[hosts] = now_s
        is_warm = now_s - self._first_s >= WARMING_S
        is_warm[ALWAYS_WARM] = True
        may_go = is_warm[of_row]
        may_go[firsts] = True
        return may_go

    def are_warm(self, of_row: Numbers, now_s: float) -> bool:
        """Say whether all of these packets may go at `now_s`, and note that if so."""
        hosts = np.unique(of_row)
        is_known = now_s - self._last_s[hosts] <= SILENT_S
        is_warm = is_known & (now_s - self._first_s[hosts] >= WARMING_S) | (hosts == ALWAYS_WARM)
        if not is_warm.all():
            return False
        self._last_s[hosts] = now_s
        return True

    def warm_from(self, now_s: float) -> Warm:
        """Return the proof that hosts were found warm at `now_s`, for `is_still`."""
        return now_s + CHECK_EACH_S, self.changes

    def is_still(self, warm: Warm, now_s: float) -> bool:
        """Whether what was proved before may still be taken for true."""
        return now_s < warm[0] and warm[1] == self.changes

    def forget(self, address: str) -> None:
        """Take a host for cold: what was sent to it had nowhere to go."""
        number = self._number_of.get(address, ALWAYS_WARM)
        if self._last_s[number] != NEVER_S:
            self._last_s[number] = NEVER_S
            self.changes += 1

    def forget_all(self) -> None:
        """Take every host for cold: the kernel forgets addresses with the cable or the interface."""
        self._last_s[:] = NEVER_S
        self.changes += 1
