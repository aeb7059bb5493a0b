"""What would go wrong on the network: too many bits, multicast in the air, too many groups to join."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from streamer.display.model import Display, Protocol
from streamer.plan.addresses import Universe
from streamer.plan.airtime import dsss_us, ofdm_us
from streamer.plan.asked import Host
from streamer.plan.findings import Finding, Severity, places_text
from streamer.plan.timing import US_PER_S
from streamer.plan.traffic import Traffic, controller_traffic, level_octets, network_load

BUSY_SHARE = 0.5
"""Of a link: common practice, no source."""
MEGA = 1_000_000


def network_findings(
    display: Display, universes: Sequence[Universe], host: Host, rate_hz: float
) -> Iterator[Finding]:
    """Yield the findings."""
    load = network_load(display, universes, rate_hz)
    yield from _link("this machine", "sends", load.total)
    for controller in display.controllers:
        yield from _link(controller.name, "is sent", controller_traffic(controller, universes, rate_hz))
    if load.multicast.share_of_100m > BUSY_SHARE:
        what = (
            f"multicast of {load.multicast.bits_per_s / MEGA:.0f} Mb/s reaches every port of a plain switch"
        )
        instead = "Use a switch with IGMP snooping and a querier, or give the controllers' addresses."
        yield Finding(Severity.WARNING, "network", what, instead)
    yield from _wireless(display, universes, host, rate_hz)
    yield from _memberships(load.groups, host)
    yield from _twice(universes)


def _link(place: str, verb: str, traffic: Traffic) -> Iterator[Finding]:
    mbit = f"it {verb} {traffic.bits_per_s / MEGA:.0f} Mb/s"
    if traffic.share_of_1g > 1:
        instead = "Split the display between several machines and networks, or send fewer frames a second."
        yield Finding(Severity.FAULT, place, f"{mbit}, and a cable of 1 Gb/s cannot carry it", instead)
    elif traffic.share_of_1g > BUSY_SHARE:
        instead = "Keep the network to itself, or split it."
        yield Finding(Severity.WARNING, place, f"{mbit}, more than half of 1 Gb/s", instead)
    elif traffic.share_of_100m > 1:
        instead = "See that every port and switch on the way has 1 Gb/s."
        yield Finding(Severity.WARNING, place, f"{mbit}, and a port of 100 Mb/s cannot carry it", instead)
    elif traffic.share_of_100m > BUSY_SHARE:
        instead = "Use ports of 1 Gb/s on the way, or send fewer frames a second."
        yield Finding(Severity.WARNING, place, f"{mbit}, more than half of 100 Mb/s", instead)


def _wireless(
    display: Display, universes: Sequence[Universe], host: Host, rate_hz: float
) -> Iterator[Finding]:
    slots = {each.name: each.slots for each in display.controllers}
    sizes = [
        level_octets(Protocol.E131, slots[each.controllers[0]]) for each in universes if each.is_multicast
    ]
    if not host.wireless or not sizes:
        return
    quick, slow = (sum(map(cost_us, sizes)) * rate_hz / US_PER_S for cost_us in (ofdm_us, dsss_us))
    what = (
        f"multicast leaves by the wireless {places_text(host.wireless)}, where it goes to everyone at the "
        "slowest rate and is never sent again when lost: "
        f"{100 * quick:.0f} % of the air at 6 Mb/s, {100 * slow:.0f} % at 1 Mb/s"
    )
    instead = "Use a cable, or write the controllers' own addresses instead of multicast."
    yield Finding(Severity.FAULT if quick > 1 else Severity.WARNING, "network", what, instead)


def _memberships(groups: int, host: Host) -> Iterator[Finding]:
    if host.memberships_limit is None or groups <= host.memberships_limit:
        return
    what = (
        f"{groups} multicast groups, but a program on a machine like this one joins {host.memberships_limit} "
        "with one socket (net.ipv4.igmp_max_memberships): it would not hear the others"
    )
    sockets = math.ceil(groups / host.memberships_limit) if host.memberships_limit else groups
    instead = (
        f"Ropewalk itself spreads them over {sockets} sockets; for other receivers raise the limit: "
        f"sysctl -w net.ipv4.igmp_max_memberships={groups}."
    )
    yield Finding(Severity.WARNING, "network", what, instead)


def _twice(universes: Sequence[Universe]) -> Iterator[Finding]:
    """Find universes that go to several places: show software would play one content to all of them."""
    for before, after in pairwise(universes):
        if (before.protocol, before.universe) == (after.protocol, after.universe):
            names = places_text([*before.controllers, *after.controllers])
            what = f"it goes to {before.address} and to {after.address} ({names}): both get the same channels"
            instead = "If that is not meant, renumber one of the two, in the file and on the controller."
            yield Finding(Severity.WARNING, before.text, what, instead)
