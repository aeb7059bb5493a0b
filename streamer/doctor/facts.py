"""What can be seen of this machine and its network, as plain values, and who sees it."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from streamer.display.model import Controller
from streamer.display.model import Protocol as Spoken
from streamer.hear.conflicts import Conflict
from streamer.net.interfaces import Interface


@dataclass(frozen=True, slots=True)
class Way:
    """How the system would send to an address or a group; nothing was sent."""

    interface: str = ""
    """Empty without one."""
    own: str = ""
    """This machine's address that it would be sent from."""
    refused: str = ""
    """The errno's name, "ENETUNREACH"; empty where there is a way."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """What the system refused, and what to do about it."""

    what: str
    instead: str


@dataclass(frozen=True, slots=True)
class PortSeen:
    """A UDP port that we tried to listen on, beside whoever else does."""

    port: int
    holder: str = ""
    """Who else holds it, in words: "process 4711 (player)"; empty when nobody does."""
    is_taken: bool = False
    """Whether what is sent to this machine alone goes to that one; else it only listens, as we do."""
    refused: Refusal | None = None
    """Why we cannot listen there."""
    is_our_yard: bool = False
    """Whether nobody holds it but this user's own yard."""


@dataclass(frozen=True, slots=True)
class GroupsSeen:
    """Groups that we tried to join."""

    count: int
    refused: Refusal | None = None


@dataclass(frozen=True, slots=True)
class Returned:
    """Groups that we sent something harmless to, and those of them that we heard it by."""

    sent: tuple[str, ...]
    heard: frozenset[str]
    refused: Refusal | None = None
    """What the system said of one that it would not send."""
    untried: int = 0
    """Groups of the display that were not tried, for there are very many."""

    @property
    def silent(self) -> tuple[str, ...]:
        """Return the groups that nothing came back by."""
        return tuple(each for each in self.sent if each not in self.heard)


@dataclass(frozen=True, slots=True)
class Answered:
    """What came of asking one address."""

    was_polled: bool = False
    """By ArtPoll."""
    nodes: tuple[str, ...] = ()
    """Who answered that, as they call themselves and where, made harmless."""
    was_asked: bool = False
    """For an echo."""
    echo_after_s: float | None = None
    """None without one."""
    no_echo: Refusal | None = None
    """Why none could be asked for."""
    resolved_s_ago: float | None = None
    """When the kernel last knew its hardware address to be right, in seconds; None if it answers for none."""
    patience_s: float = 0.0


@dataclass(frozen=True, slots=True)
class OthersSeen:
    """What others send on our universes."""

    conflicts: tuple[Conflict, ...]
    seconds: float
    """How long was listened."""
    protocols: frozenset[Spoken]
    """Those that were listened to."""


@dataclass(frozen=True, slots=True)
class RunSeen:
    """A run of this user's on this machine that sends universes of the display."""

    name: str
    universes: tuple[str, ...]
    """In words."""
    pattern: str
    complaints: tuple[str, ...] = ()
    """What it says itself of what is wrong just now."""


class Eyes(Protocol):
    """Sees all that for the chain, in the chain's order. Each call may take a while."""

    def interfaces(self) -> tuple[Interface, ...]:
        """Return this machine's interfaces as they are now."""

    def way(self, address: str, interface: Interface | None) -> Way:
        """Return how a numeric address or a group would be sent to, by that interface where one is given."""

    def port(self, spoken: Spoken, interface: Interface | None) -> PortSeen:
        """Listen on the protocol's port from now on."""

    def join(self, universes: Sequence[int]) -> GroupsSeen:
        """Join the groups of these E1.31 universes on the E1.31 port that is listened on."""

    def own_multicast(self, groups: Sequence[str], interface: Interface | None) -> Returned:
        """Send to these groups what no light can take for levels, and hear whether it comes back."""

    def ask(
        self, controllers: Sequence[Controller], interface: Interface | None, *, may_poll: bool
    ) -> Mapping[str, Answered]:
        """Ask each address for an echo and, of Art-Net and where that may be, by ArtPoll."""

    def others(self, priorities: Mapping[tuple[Spoken, int], int]) -> OthersSeen:
        """Hear who else sends these universes, ours at these priorities, for a few seconds in all."""

    def runs(self, universes: Collection[tuple[Spoken, int]]) -> tuple[RunSeen, ...]:
        """Return the runs of this user that send any of these universes."""
