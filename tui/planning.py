"""Joins what is planned of a display with its power, as plain data for the sheet that shows it.

It takes from milliseconds to seconds, and loads much: call it off the event loop.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from streamer.engine.messages import Setup

if TYPE_CHECKING:
    from patterns.plain import Bytes
    from streamer.plan.report import DisplayPlan
    from streamer.power.plan import PowerPlan

SENT_NOW = "the frame that this screen's engine sends"


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing to look at."""

    place: str
    what: str
    """A sentence without its full stop."""
    instead: str
    """What to do, a sentence with its full stop."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A display's plan and power, and what is wrong in either."""

    plan: "DisplayPlan"
    power: "PowerPlan"
    faults: tuple[Trouble, ...]
    """What cannot work, or is not as it should be at the present level."""
    cautions: tuple[Trouble, ...]
    """What works, but worse than one may think, or deserves a look."""


def planned(setup: Setup, level_percent: float, rate_hz: float, nodes: "Bytes | None") -> Planned:
    """Return the plan of a display that has passed its checks; `nodes`, (N, 4) octets, is what is sent now.

    Raises NetworkError when the interface of the setup is not there.
    """
    from streamer.cli.planning import host_of
    from streamer.plan.asked import Asked
    from streamer.plan.electricity import power_of
    from streamer.plan.findings import Severity
    from streamer.plan.report import plan_of
    from streamer.power.plan import power_plan

    display = setup.display
    power = power_plan(display, level_percent, nodes)
    host = host_of(display, setup.interface, wireless=None)
    plan = plan_of(display, Asked(rate_hz), host, power_of(display, power, SENT_NOW))
    told = [
        (each.severity is Severity.FAULT, Trouble(each.place, each.what, each.instead))
        for each in plan.findings
    ]
    return Planned(
        plan,
        power,
        tuple(trouble for is_fault, trouble in told if is_fault),
        tuple(trouble for is_fault, trouble in told if not is_fault),
    )
