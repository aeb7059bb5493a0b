"""What IPv6 asks of the interfaces of a run, before anything is sent by them."""

from collections.abc import Iterable

from streamer.display.addresses import controller_text
from streamer.display.model import MULTICAST_IPV6, Controller
from streamer.errors import NetworkError
from streamer.net.destinations import is_loopback
from streamer.net.interfaces import Interface, find_interface, has_way_by
from streamer.net.zones import zone_of
from streamer.wire import e131

ANY_GROUP = e131.multicast_group_v6(e131.UNIVERSE_MIN)
"""Stands for all of them: routes are by ff00::/8."""
LOOPBACK_ROUTE = "ip -6 route add local ff18::/16 dev lo"
"""Linux routes the groups of IPv6 to every interface but loopback by itself (tried on 6.18)."""


def check_ipv6(controllers: Iterable[Controller], chosen: Interface | None) -> None:
    """Raise NetworkError where a controller's interface is not there, is another one or has no IPv6.

    A missing route is no error while no interface is chosen: it may come, as a cable may be plugged in.
    """
    for controller in controllers:
        interface = _interface_of(controller, chosen)
        if interface is None or is_loopback(controller.address):
            continue
        if not interface.ipv6_addresses:
            raise NetworkError(
                f"interface {interface.name!r} has no IPv6 address",
                controller_text(controller),
                "Plug in its cable, switch IPv6 on for it, or write the controller's IPv4 address",
            )
        if controller.address == MULTICAST_IPV6 and not has_way_by(interface, ANY_GROUP):
            raise NetworkError(
                f"this machine has no route for IPv6 groups by interface {interface.name!r}",
                controller_text(controller),
                f"Send to the controllers' own addresses, or give it one (for lo: {LOOPBACK_ROUTE})",
            )


def _interface_of(controller: Controller, chosen: Interface | None) -> Interface | None:
    """Return the interface that a controller must be reached by, None where the system chooses."""
    zone = zone_of(controller.address)
    if not zone:
        return chosen
    try:
        interface = find_interface(zone)
    except NetworkError as error:
        raise NetworkError(
            f"{error.where}: {error.what}", controller_text(controller), error.instead
        ) from error
    if chosen and chosen.name != interface.name:
        raise NetworkError(
            f"it is on {interface.name}, but packets are to leave by {chosen.name}",
            controller_text(controller),
            "Leave the choice of interface out, or correct one of the two",
        )
    return interface
