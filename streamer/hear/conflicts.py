"""Another source on a universe that we send: who it is, who wins by the standard, and what to do about it.

Pure: what we send and what is heard in, conflicts out. ANSI E1.31-2018 clause 6.2.3: only the sources of the
highest priority count, and what a receiver makes of several is its maker's choice. Art-Net has no priority: a
node merges two sources, or says that there is an error.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from streamer.display.model import Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.hear.messages import Heard, SourceHeard, Standing, UniverseHeard
from streamer.hear.notes import source_text
from streamer.wire.e131 import PRIORITY_MAX

Key = tuple[Protocol, int]
Whose = tuple[Protocol, int, str, str]


class Winner(StrEnum):
    """Whose levels the receivers show."""

    OURS = "ours"
    THEIRS = "theirs"
    EITHER = "either"
    """Merged or chosen, as each receiver is made."""


GRAVEST = (Winner.THEIRS, Winner.EITHER, Winner.OURS)


@dataclass(frozen=True, slots=True)
class Ours:
    """What we send, and how to know ourselves when we are heard."""

    cid: str
    """Our CID: what carries it is ours; "" while it is not known."""
    addresses: frozenset[str]
    """This machine's: Art-Net has nothing else to know a source by."""
    priorities: Mapping[Key, int]
    """Of every universe that we send; of Art-Net any number."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """One other source on one of our universes."""

    universe: UniverseHeard
    source: SourceHeard
    our_priority: int
    winner: Winner

    @property
    def whose(self) -> Whose:
        """Which source, on which universe."""
        return (self.universe.protocol, self.universe.universe, self.source.cid, self.source.address)

    @property
    def key(self) -> "ConflictKey":
        """What makes two conflicts different enough to be told apart."""
        return (self.whose, self.winner)

    @property
    def who(self) -> tuple[Protocol, str, str, str, int | None, int, Winner]:
        """What conflicts on several universes may have in common, so that they are told in one sentence."""
        source, protocol = self.source, self.universe.protocol
        return (
            *(protocol, source.name, source.cid, source.address),
            *(source.priority, self.our_priority, self.winner),
        )


ConflictKey = tuple[Whose, Winner]


def conflicts(ours: Ours, heard: Heard) -> tuple[Conflict, ...]:
    """Return every live source of levels on a universe that we send that is not ourselves."""
    return tuple(
        Conflict(universe, source, our_priority, _winner(universe.protocol, source, our_priority))
        for universe in heard.universes
        for our_priority in _our_priority(ours, universe)
        for source in universe.sources
        if source.standing is not Standing.NONE and not _is_ours(ours, universe.protocol, source)
    )


def _our_priority(ours: Ours, universe: UniverseHeard) -> Iterator[int]:
    """Yield our priority on a universe, if we send it."""
    key = universe.protocol, universe.universe
    if key in ours.priorities:
        yield ours.priorities[key]


def _is_ours(ours: Ours, protocol: Protocol, source: SourceHeard) -> bool:
    if protocol is Protocol.ARTNET:
        return source.address in ours.addresses
    return source.cid == ours.cid


def _winner(protocol: Protocol, source: SourceHeard, our_priority: int) -> Winner:
    theirs = source.priority
    if protocol is Protocol.ARTNET or theirs is None or theirs == our_priority:
        return Winner.EITHER
    return Winner.THEIRS if theirs > our_priority else Winner.OURS


def sentences(found: Iterable[Conflict]) -> Iterator[str]:
    """Yield a sentence for each other source: who, where from, which priority, who wins, what to do."""
    return map(_sentence, by_source(found))


def briefs(found: Iterable[Conflict]) -> Iterator[str]:
    """Yield the same, the gravest first, for a line on a screen."""
    return map(_brief, sorted(by_source(found), key=lambda group: GRAVEST.index(group[0].winner)))


def by_source(found: Iterable[Conflict]) -> Iterable[list[Conflict]]:
    """Return the conflicts with each other source together, in the order given: told in one sentence."""
    groups: dict[object, list[Conflict]] = {}
    for conflict in found:
        groups.setdefault(conflict.who, []).append(conflict)
    return groups.values()


def _brief(group: list[Conflict]) -> str:
    first = group[0]
    more = f" and {len(group) - 1} more" if len(group) > 1 else ""
    who = f"{source_text(first.source)} also sends {first.universe.text}{more}"
    theirs, our = first.source.priority, first.our_priority
    if first.universe.protocol is Protocol.ARTNET or theirs is None:
        return f"{who}: nodes merge the two. Stop it, or move it to another Port-Address."
    if first.winner is Winner.OURS:
        return f"{who}, at priority {theirs}, under your {our}: yours wins."
    remedy = f"Stop it, or send at {theirs + 1} or more." if theirs < PRIORITY_MAX else "Stop it."
    if first.winner is Winner.THEIRS:
        return f"{who}, at priority {theirs}, over your {our}: it wins. {remedy}"
    return f"{who}, at priority {theirs} like yours: receivers merge or choose. {remedy}"


def _sentence(group: list[Conflict]) -> str:
    first = group[0]
    more = f" and {len(group) - 1} more of ours" if len(group) > 1 else ""
    where = f"{first.universe.text}{more}"
    who = f"Another source sends {where}: {source_text(first.source)}"
    if first.universe.protocol is Protocol.ARTNET:
        return (
            f"{who}. {PROTOCOL_NAME[Protocol.ARTNET]} has no priorities: nodes merge the two, or show one. "
            "Stop the other source, or move it to another Port-Address."
        )
    theirs, our = first.source.priority, first.our_priority
    return f"{who}, priority {theirs}; ours is {our}. {_outcome(first.winner, theirs or 0)}"


def _outcome(winner: Winner, theirs: int) -> str:
    if winner is Winner.OURS:
        return "Ours wins, by E1.31; receivers that know no priorities may show the other one."
    if theirs < PRIORITY_MAX:
        remedy = f"Stop the other source, or give your controllers a priority of {theirs + 1} or more"
    else:
        remedy = "Stop the other source: no priority is higher"
    if winner is Winner.THEIRS:
        return f"The other one wins, by E1.31: your lights show its levels, not yours. {remedy}."
    return f"Receivers merge the two or choose one, as they are made. {remedy}."
