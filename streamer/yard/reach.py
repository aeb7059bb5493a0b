"""Which virtual controllers a datagram reaches, by the address that it was sent to."""

from streamer.display.addresses import is_by_ipv6
from streamer.display.model import GROUPS, Controller
from streamer.net.destinations import (
    LOOPBACK,
    LOOPBACK_BROADCAST,
    LOOPBACK_IPV6,
    LOOPBACK_PREFIX,
    is_group,
    is_ipv6,
)
from streamer.yard.intake import Intake
from streamer.yard.port import YardPort

Taker = YardPort | Intake
Listeners = list[tuple[Controller, Taker]]

SHARED = frozenset({LOOPBACK, LOOPBACK_IPV6})
"""Where controllers listen that have no loopback address of their own."""


def loopback_address(controller: Controller) -> str:
    """Return where a controller's double listens: its own address on loopback, else 127.0.0.1 or ::1."""
    if is_by_ipv6(controller.address):
        return LOOPBACK_IPV6
    return controller.address if controller.address.startswith(LOOPBACK_PREFIX) else LOOPBACK


def reached(listeners: Listeners, destination: str | None) -> list[Taker]:
    """Return those whom a datagram to that address reaches."""
    if destination is None or destination == LOOPBACK_BROADCAST:
        return [taker for _, taker in listeners]
    by_ipv6 = is_ipv6(destination)
    in_groups = [
        taker
        for owner, taker in listeners
        if owner.address in GROUPS and is_by_ipv6(owner.address) == by_ipv6
    ]
    if is_group(destination):
        return in_groups
    # ANSI E1.31-2018 clause 9: a receiver of groups also takes what is sent to its own address. In the
    # yard it shares that with others, so what one of those listens to is meant for that one.
    own = [
        taker
        for owner, taker in listeners
        if owner.address not in GROUPS and loopback_address(owner) == destination
    ]
    return own or (in_groups if destination in SHARED else [])
