"""How checks are told, wherever a person reads them."""

from collections.abc import Sequence

from streamer.doctor.checks import Check, Link, State

MARKS = {
    State.WELL: "well",
    State.REMARK: "REMARK",
    State.BROKEN: "BROKEN",
    State.NOT_LOOKED_AT: "not looked at",
}
TITLES = {
    Link.FILE: "display file",
    Link.INTERFACE: "interface",
    Link.WAY: "way to",
    Link.GROUPS_WAY: "way for",
    Link.PORT: "port",
    Link.GROUPS: "groups",
    Link.OWN_MULTICAST: "our own multicast",
    Link.ANSWER: "answer of",
    Link.OTHERS: "other sources:",
    Link.RUNS: "other runs:",
    Link.AIR: "wireless?",
}


def title(check: Check) -> str:
    """Return what a check is about: "way to jetty (192.168.7.50)"."""
    return f"{TITLES[check.link]} {check.subject}"


def seen_text(check: Check) -> str:
    """Return what was looked at and seen, as sentences; of what was not looked at, why and what to do."""
    if check.state is State.NOT_LOOKED_AT:
        # There is only the reason, and many may have the same one.
        return f"{'. '.join(_capital(each) for each in (check.saw, check.instead) if each)}."
    return f"Looked at {check.looked_at}: {check.saw}."


def instead_text(check: Check) -> str:
    """Return what to do, as sentences; empty where nothing is, or `seen_text` says it."""
    return f"{check.instead}." if check.instead and check.state is not State.NOT_LOOKED_AT else ""


def saw_text(check: Check) -> str:
    """Return what was seen, as a sentence."""
    return f"{_capital(check.saw)}."


def counts_text(checks: Sequence[Check]) -> str:
    """Return "2 broken, 1 remark, 9 well, 3 not looked at."."""
    counts = {state: sum(each.state is state for each in checks) for state in State}
    remarks = f"{counts[State.REMARK]} remark{'s' * (counts[State.REMARK] != 1)}"
    told = [
        f"{counts[State.BROKEN] or 'nothing'} broken",
        remarks if counts[State.REMARK] else "",
        f"{counts[State.WELL]} well",
        f"{counts[State.NOT_LOOKED_AT]} not looked at" if counts[State.NOT_LOOKED_AT] else "",
    ]
    return f"{_capital(', '.join(filter(None, told)))}."


def remarks_text(checks: Sequence[Check]) -> str:
    """Return which checks have remarks, as a sentence; empty where none has."""
    found = [title(each) for each in checks if each.state is State.REMARK]
    return f"See the remark{'s' * (len(found) != 1)} on: {', '.join(found)}." if found else ""


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"
