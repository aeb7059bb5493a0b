"""The logbook as one HTML page: nothing is fetched, nothing runs in it, and it prints."""

from datetime import datetime

from jinja2 import Environment, PackageLoader, StrictUndefined

from streamer.logbook.standing import Standings, State
from streamer.logbook.wording import NEXT, events, name, summary, when, why

TEMPLATE = "logbook.html.j2"


def as_html(standings: Standings, at: datetime, *, only_open: bool) -> str:
    """Return the page of everything, or of the punch list; `at` is when it is made."""
    environment = Environment(
        loader=PackageLoader("streamer.logbook", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    groups = [
        (state, NEXT.get(state, ""), [each for each in standings.all if each.state is state])
        for state in State
        if not (only_open and state is State.PROVEN)
    ]
    return environment.get_template(TEMPLATE).render(
        title="Punch list" if only_open else "Logbook",
        summary=summary(standings),
        made=when(at),
        groups=[group for group in groups if group[2]],
        gone=() if only_open else standings.gone,
        events=events,
        name=name,
        why=why,
    )
