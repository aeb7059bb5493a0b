"""By which call packets go to each destination: what is wanted, what was refused, and that in words."""

from collections.abc import Iterable, Mapping
from enum import StrEnum

from streamer.net.destinations import Destination, is_group
from streamer.net.mailing import Mailing, Mailings
from streamer.net.zones import zone_of

MOST_TOLD = 100
"""Addresses told of, those with a refusal first: a person reads it, some times a second."""
GROUPS = "multicast"
"""Stands for all groups: each universe has its own, and the way is one and the same."""
NOT_YET = (-1, -1)


class Way(StrEnum):
    """How packets are handed to the kernel."""

    OFFLOAD = "offload"
    """Many to one address as one long datagram, which the kernel cuts."""
    SENDMMSG = "sendmmsg"
    """Many, each to its own address, in one call."""
    SENDTO = "sendto"
    """One by one."""


class Ways:
    """What a sender may use, and what it has found refused. Given one way, that and sendto alone."""

    def __init__(self, only: Way | None, without_offload: str) -> None:
        self._can_offload = only in (None, Way.OFFLOAD) and not without_offload
        self._without_offload = without_offload
        self._has_sendmmsg = only in (None, Way.SENDMMSG)
        self._without_sendmmsg = ""
        self._refused: dict[Destination, str] = {}
        self._changes = 0
        self._told_at = NOT_YET
        self._told: Mapping[str, str] = {}

    @property
    def has_sendmmsg(self) -> bool:
        """Whether packets to different addresses go by one call."""
        return self._has_sendmmsg

    def is_together(self, destination: Destination) -> bool:
        """Whether many packets to it go as one, for the kernel to cut."""
        return self._can_offload and destination not in self._refused

    def refuse_offload(self, destination: Destination, errno_name: str) -> None:
        """Remember that the kernel does not cut for that destination."""
        self._refused[destination] = errno_name
        self._changes += 1

    def refuse_sendmmsg(self, errno_name: str) -> None:
        """Remember that the kernel does not have that call."""
        self._has_sendmmsg = False
        self._without_sendmmsg = f"{Way.SENDMMSG} refused ({errno_name})"
        self._changes += 1

    def try_again(self) -> None:
        """Forget where the kernel did not cut: it may be another adapter now."""
        self._refused.clear()
        self._changes += 1

    def in_words(self, mailings: Mailings) -> Mapping[str, str]:
        """Return the way to each address of these mailings, and the reason where a better one is refused."""
        state = mailings.changes, self._changes
        if state != self._told_at:
            self._told_at, self._told = state, self._tell(mailings)
        return self._told

    def _tell(self, mailings: Iterable[Mailing]) -> dict[str, str]:
        told: dict[str, str] = {}
        for mailing in mailings:
            for destination, is_alone in mailing.alone.items():
                address = GROUPS if is_group(destination[0]) else destination[0]
                told.setdefault(address, "")
                told[address] = max(told[address], self._way_to(destination, is_alone=is_alone), key=len)
        # A reason is longer than any way without one.
        return dict(sorted(told.items(), key=lambda each: -len(each[1]))[:MOST_TOLD])

    def _way_to(self, destination: Destination, *, is_alone: bool) -> str:
        if not is_alone and self.is_together(destination):
            return Way.OFFLOAD.value
        is_one_call = self._has_sendmmsg and not zone_of(destination[0])
        way = Way.SENDMMSG if is_one_call else Way.SENDTO
        refused = self._refused.get(destination) or (not is_alone and self._without_offload)
        reasons = [f"{Way.OFFLOAD} refused ({refused})"] if refused else []
        reasons += [self._without_sendmmsg] if self._without_sendmmsg else []
        return f"{way}: {'; '.join(reasons)}" if reasons else way.value
