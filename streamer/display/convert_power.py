"""Turns what a display file says of supplies, nodes and wires into the model."""

from typing import Any

from streamer.display.electrics import Injection, Lead, NodeKind, Supply
from streamer.display.places import Locate
from streamer.display.schema import FileDisplay, FilePort
from streamer.display.schema_power import MM_PER_M, FileInjection, FileLead, FileSupply
from streamer.display.units import Written
from streamer.display.wording import problem_at
from streamer.errors import Problem


def problems_of_head(head: FileDisplay, locate: Locate) -> list[Problem]:
    """Return what is wrong with supplies whose keys are valid one by one."""
    problems = []
    for index, supply in enumerate(head.supplies):
        path = ("supplies", index)
        if supply.amps is None and supply.watts is None:
            what = "the supply says neither 'amps' nor 'watts'"
            problems.append(
                problem_at(locate, path, what, "Add what its label says, for example: watts = 350")
            )
        if supply.amps is not None and supply.watts is not None:
            what = "the supply says both 'amps' and 'watts'"
            problems.append(problem_at(locate, (*path, "watts"), what, "Take one of the two out"))
    return problems


def power_of_head(head: FileDisplay) -> dict[str, Any]:
    """Return the supplies and kinds of nodes; `problems_of_head` has found nothing."""
    return {
        "supplies": tuple(_supply_from(supply) for supply in head.supplies),
        "node_kinds": tuple(NodeKind(**kind.model_dump()) for kind in head.node_kinds),
    }


def power_of_port(port: FilePort) -> dict[str, Any]:
    """Return what feeds a port and what its nodes are."""
    return {
        "node_kind": port.node_kind,
        "supply": port.supply,
        "fuse_a": port.fuse,
        "lead": _lead_from(port.lead) if port.lead else None,
        "wire": port.wire,
        "injections": tuple(_injection_from(injection) for injection in port.injections),
    }


def _supply_from(supply: FileSupply) -> Supply:
    amps = supply.amps or (supply.watts or 0.0) / supply.volts
    return Supply(name=supply.name, volts=supply.volts, amps=amps, fuse_a=supply.fuse)


def _lead_from(lead: FileLead) -> Lead:
    written = lead.length.text if isinstance(lead.length, Written) else ""
    return Lead(length_m=lead.length / MM_PER_M, wire=lead.wire, written=written)


def _injection_from(injection: FileInjection) -> Injection:
    return Injection(
        after=injection.after,
        lead=_lead_from(injection.lead),
        supply=injection.supply,
        fuse_a=injection.fuse,
        is_positive_cut=injection.positive_cut,
    )
