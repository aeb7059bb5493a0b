"""Judges whether this machine hears: the port, the groups, and its own multicast."""

from streamer.display.model import Protocol
from streamer.display.numbering import PROTOCOL_NAME
from streamer.doctor.checks import Check, Link, State
from streamer.doctor.facts import GroupsSeen, PortSeen, Returned

GROUPS_TOLD = 3
SWITCHES = "What a switch does with it farther on cannot be seen from here"


def judge_port(spoken: Protocol, seen: PortSeen) -> Check:
    """Judge a protocol's port on this machine."""
    subject, looked_at = f"{PROTOCOL_NAME[spoken]}, UDP {seen.port}", "who holds the port on this machine"
    if seen.refused:
        return Check(Link.PORT, subject, State.BROKEN, looked_at, seen.refused.what, seen.refused.instead)
    if not seen.holder:
        return Check(Link.PORT, subject, State.WELL, looked_at, "it is free")
    if seen.is_our_yard:
        what = (
            "your own yard plays controllers there, as it is meant to in a rehearsal; "
            "end it before you go to the lights themselves"
        )
        return Check(Link.PORT, subject, State.WELL, looked_at, what)
    if not seen.is_taken:
        what = f"{seen.holder} listens there too, and is not in the way"
        return Check(Link.PORT, subject, State.WELL, looked_at, what)
    if spoken is Protocol.ARTNET:
        what = f"{seen.holder} holds it too, and answers of nodes to this machine reach that one"
    else:
        what = f"{seen.holder} holds it too, and shares it"
    instead = "If that program sends levels, end it: two sources disturb each other"
    return Check(Link.PORT, subject, State.REMARK, looked_at, what, instead)


def judge_groups(seen: GroupsSeen, *, is_needed: bool) -> Check:
    """Judge joining; `is_needed` where the display itself goes by multicast."""
    subject, looked_at = "of our universes", "joining the groups of the display's E1.31 universes"
    if seen.refused:
        state = State.BROKEN if is_needed else State.REMARK
        what = seen.refused.what if is_needed else f"{seen.refused.what}: others who send there are not heard"
        return Check(Link.GROUPS, subject, state, looked_at, what, seen.refused.instead)
    told = "1 group joined" if seen.count == 1 else f"{seen.count} groups joined"
    return Check(Link.GROUPS, subject, State.WELL, looked_at, told)


def judge_own_multicast(seen: Returned) -> Check:
    """Judge what came back of what we sent to groups."""
    subject = "heard back"
    looked_at = "a discovery packet without universes, and a datagram to each group on a port of our own"
    if seen.refused:
        return Check(
            Link.OWN_MULTICAST, subject, State.BROKEN, looked_at, seen.refused.what, seen.refused.instead
        )
    silent = seen.silent
    untried = f"; {seen.untried} more were not tried" if seen.untried else ""
    if not silent:
        what = f"all {len(seen.sent)} groups came back{untried}. {SWITCHES}"
        return Check(Link.OWN_MULTICAST, subject, State.WELL, looked_at, what)
    names = ", ".join(silent[:GROUPS_TOLD]) + (" and more" if len(silent) > GROUPS_TOLD else "")
    what = f"nothing came back by {len(silent)} of {len(seen.sent)} groups ({names}){untried}"
    instead = (
        "A firewall of this machine filters it: allow UDP to 239.255.0.0/16, port 5568, in and out "
        "(nft list ruleset shows the rules)"
    )
    return Check(Link.OWN_MULTICAST, subject, State.BROKEN, looked_at, what, instead)
