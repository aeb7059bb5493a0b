"""Judges the way to each controller, and that of multicast."""

from collections.abc import Sequence
from ipaddress import IPv4Interface

from streamer.display.model import Controller
from streamer.display.places import plain
from streamer.doctor.checks import Check, Link, State
from streamer.doctor.facts import Way
from streamer.doctor.places import beside, holders, holds, is_own, networks_text, usable
from streamer.net.complaints import OTHERWISE, SENTENCES
from streamer.net.destinations import is_ipv6, is_loopback
from streamer.net.interfaces import Interface

LOOKED_AT = "this machine's addresses and routes"
NO_WAY = "ENETUNREACH"


def multicast_text(group: str) -> str:
    """Return how the groups of an IP version are told of."""
    return f"multicast by {'IPv6' if is_ipv6(group) else 'IPv4'}"


def subject_of(controller: Controller) -> str:
    """Return how a controller is told of: "jetty (192.168.7.50)"."""
    return f"{plain(controller.name)} ({controller.address})"


def judge_way(
    controller: Controller, way: Way, interfaces: Sequence[Interface], chosen: Interface | None
) -> Check:
    """Judge the way to a controller that has an address of its own."""
    if is_loopback(controller.address):
        return _way(controller, State.WELL, "it is this machine itself")
    if way.refused:
        return _no_way(controller, way, interfaces, chosen)
    if is_own(interfaces, controller.address):
        what = "this machine has that address itself: nothing sent there leaves it"
        return _way(controller, State.REMARK, what, "Unless a yard is meant, correct the address in the file")
    if is_ipv6(controller.address):
        return _way(controller, State.WELL, f"it leaves by {way.interface}, from {way.own}")
    return _by_ipv4(controller, way, interfaces, chosen)


def _by_ipv4(
    controller: Controller, way: Way, interfaces: Sequence[Interface], chosen: Interface | None
) -> Check:
    by = next((each for each in interfaces if each.name == way.interface), None)
    if by is None or not holds(by, controller.address):
        return _routed(controller, way, interfaces)
    others = [each.name for each in usable(holders(interfaces, controller.address)) if each.name != by.name]
    if others and chosen is None:
        what = f"{' and '.join([by.name, *others])} are all in its network, and the system takes {by.name}"
        return _way(controller, State.REMARK, what, f"If that is not meant: --interface {others[0]}")
    return _way(controller, State.WELL, f"{networks_text(by)} on {by.name} is in the same network")


def judge_groups_way(
    group: str, way: Way, interfaces: Sequence[Interface], chosen: Interface | None
) -> Check:
    """Judge how multicast leaves; `group` stands for all of its IP version."""
    subject = multicast_text(group)
    by = next((each for each in interfaces if each.name == way.interface), None)
    if way.refused or by is None:
        what, _ = SENTENCES.get(way.refused or NO_WAY, (f"the system refuses ({way.refused})", ""))
        return _groups(subject, State.BROKEN, f"{what}: {group}", _route_for(group, interfaces, chosen))
    if not by.can_multicast:
        what = f"{by.name} does not carry multicast"
        return _groups(subject, State.BROKEN, what, "Choose another interface with --interface")
    others = [each.name for each in usable(interfaces) if each.name != by.name]
    if chosen is None and by.is_loopback:
        what = "the system keeps it inside this machine (lo)"
        return _groups(subject, State.BROKEN, what, _route_for(group, interfaces, chosen))
    if chosen is None and others:
        what = f"it leaves by {by.name} alone, and not by {' or '.join(others)}"
        return _groups(subject, State.REMARK, what, f"If that is not meant: --interface {others[0]}")
    return _groups(subject, State.WELL, f"it leaves by {by.name}, from {way.own}")


def _no_way(
    controller: Controller, way: Way, interfaces: Sequence[Interface], chosen: Interface | None
) -> Check:
    what, instead = SENTENCES.get(way.refused, (f"the system refuses ({way.refused})", OTHERWISE))
    if way.refused == NO_WAY:
        what = f"{what}: {_here(interfaces, chosen)}"
        instead = _give_one(controller.address, interfaces)
    return _way(controller, State.BROKEN, what, instead)


def _routed(controller: Controller, way: Way, interfaces: Sequence[Interface]) -> Check:
    what = (
        f"no address of this machine is in its network ({_here(interfaces, None)}): "
        f"it would go to a router by {way.interface or 'another interface'}"
    )
    instead = f"{_give_one(controller.address, interfaces)}. Leave it only if that router leads there"
    return _way(controller, State.REMARK, what, instead)


def _here(interfaces: Sequence[Interface], chosen: Interface | None) -> str:
    seen = [chosen] if chosen else [each for each in interfaces if not each.is_loopback]
    told = [f"{each.name} has {networks_text(each)}{'' if each.is_up else ', down'}" for each in seen]
    return "; ".join(told) or "this machine has no interface but loopback"


def _give_one(address: str, interfaces: Sequence[Interface]) -> str:
    if is_ipv6(address):
        return "Give this machine an IPv6 address in the controller's network, or a route there"
    taken = [own.address for each in interfaces for own in each.addresses]
    ours = next((own for each in usable(interfaces) for own in each.addresses), None)
    instead = f"Give this machine an address beside the controller's, such as {beside(address, taken)}"
    if ours is None:
        return instead
    network = IPv4Interface(f"{ours.address}/{ours.netmask}").network
    return f"{instead}, or the controller one in {network}, and the file too"


def _route_for(group: str, interfaces: Sequence[Interface], chosen: Interface | None) -> str:
    names = [chosen.name] if chosen else [each.name for each in usable(interfaces)]
    if not names:
        return "Switch on an interface that leads to the controllers, and give it an address"
    if is_ipv6(group):
        route = f"ip -6 route add ff18::/16 dev {names[0]} table local"
    else:
        # ANSI E1.31-2018 Table 9-10: every universe's group is in it.
        route = f"ip route add 239.255.0.0/16 dev {names[0]}"
    return f"Say which interface: --interface {names[0]}. Or give a route, as administrator: {route}"


def _way(controller: Controller, state: State, saw: str, instead: str = "") -> Check:
    return Check(Link.WAY, subject_of(controller), state, LOOKED_AT, saw, instead)


def _groups(subject: str, state: State, saw: str, instead: str = "") -> Check:
    return Check(Link.GROUPS_WAY, subject, state, "this machine's routes for multicast", saw, instead)
