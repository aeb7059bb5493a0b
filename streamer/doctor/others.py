"""Judges who else sends our universes: other sources, and other runs of our own."""

from collections.abc import Sequence

from streamer.display.model import Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.display.places import plain
from streamer.doctor.checks import Check, Link, State
from streamer.doctor.facts import OthersSeen, RunSeen
from streamer.hear.conflicts import Conflict, Winner, by_source
from streamer.hear.notes import source_text
from streamer.wire.e131 import PRIORITY_MAX

TOLD_MAX = 8
LISTED = 3
NOT_HEARD = "what others send to one controller alone does not come by here"


def judge_others(seen: OthersSeen) -> tuple[Check, ...]:
    """Judge other sources, each by itself; one check in all where there is none."""
    names = " and ".join(PROTOCOL_NAME[each] for each in sorted(seen.protocols))
    looked_at = f"{names} for {seen.seconds:.1f} s ({NOT_HEARD})"
    groups = list(by_source(seen.conflicts))
    if not groups:
        return (Check(Link.OTHERS, "none", State.WELL, looked_at, "nobody else sends our universes"),)
    return tuple(_judge_source(group, looked_at) for group in groups[:TOLD_MAX])


def _judge_source(group: Sequence[Conflict], looked_at: str) -> Check:
    first = group[0]
    where = _listed([each.universe.text for each in group])
    subject = source_text(first.source)
    if first.universe.protocol is Protocol.ARTNET:
        what = f"it sends {where} too, and nodes merge the two or show one: Art-Net has no priorities"
        instead = "Stop it, or move it to another Port-Address"
        return Check(Link.OTHERS, subject, State.BROKEN, looked_at, what, instead)
    theirs = first.source.priority or 0
    what = (
        f"it sends {where} too, at priority {theirs}; ours is {first.our_priority}: {_OUTCOME[first.winner]}"
    )
    if first.winner is Winner.OURS:
        instead = "Stop it if it is not meant: receivers that know no priorities may show it"
        return Check(Link.OTHERS, subject, State.REMARK, looked_at, what, instead)
    above = f", or send with --priority {theirs + 1} or more" if theirs < PRIORITY_MAX else ""
    return Check(Link.OTHERS, subject, State.BROKEN, looked_at, what, f"Stop it{above}")


_OUTCOME = {
    Winner.OURS: "ours wins, by E1.31",
    Winner.THEIRS: "it wins, by E1.31, and the lights show its levels",
    Winner.EITHER: "receivers merge the two or choose one, as they are made",
}
"""ANSI E1.31-2018 clause 6.2.3."""


def judge_runs(seen: Sequence[RunSeen]) -> tuple[Check, ...]:
    """Judge other runs of this user: one is what may be meant, two disturb each other."""
    looked_at = "the runs of this user on this machine"
    if not seen:
        return (Check(Link.RUNS, "none", State.WELL, looked_at, "none sends our universes"),)
    state = State.REMARK if len(seen) == 1 else State.BROKEN
    return tuple(Check(Link.RUNS, plain(each.name), state, looked_at, *_run(each, seen)) for each in seen)


def _run(run: RunSeen, every: Sequence[RunSeen]) -> tuple[str, str]:
    what = f"it sends {run.pattern!r} to {_listed(run.universes)} now"
    if len(every) > 1:
        what += ", and another run does too"
    # A run's own words end in what to do.
    complaint = f". It says: {run.complaints[0]}" if run.complaints else ""
    instead = f"If that is not what should be seen: ropewalk stop {plain(run.name)}"
    return f"{what}{complaint}", instead


def _listed(names: Sequence[str]) -> str:
    more = len(names) - LISTED
    return ", ".join(names[:LISTED]) + (f" and {more} more" if more > 0 else "")
