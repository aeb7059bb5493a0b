"""Judges interfaces: there, up, with a cable and an address; and whether the way goes through the air."""

from collections.abc import Sequence

from streamer.doctor.checks import Check, Link, State
from streamer.doctor.places import LINK_LOCAL, beside, networks_text, usable
from streamer.net.carrier import CABLE_OUT, NETWORK_LEFT
from streamer.net.destinations import is_ipv6
from streamer.net.interfaces import Interface

ANY = "any of them"
LOOKED_AT = "this machine's interfaces"
EXAMPLE = "192.168.7.20"
"""For a display that names no address at all."""


def missing(name: str, interfaces: Sequence[Interface]) -> Check:
    """Judge an interface that was asked for and is not there."""
    choices = "; ".join(map(str, interfaces)) or "there is none"
    return _check(name, State.BROKEN, "there is no such interface", f"Choose one of: {choices}")


def judge_interface(interface: Interface, addresses: Sequence[str]) -> Check:
    """Judge one that levels are to leave by, for controllers at these addresses; groups have none."""
    name = interface.name
    if not interface.is_up:
        what = f"it is switched off ({networks_text(interface)})"
        return _check(name, State.BROKEN, what, f"Switch it on, as administrator: ip link set {name} up")
    if interface.has_carrier is False:
        what, _, instead = (NETWORK_LEFT if interface.is_wireless else CABLE_OUT).partition(". ")
        return _check(name, State.BROKEN, what, instead)
    if not interface.addresses and not interface.ipv6_addresses:
        return _check(name, State.BROKEN, "it is up, but has no address", _give_address(addresses))
    seen = f"up, {networks_text(interface)}{_carrier_text(interface)}"
    if any(each.address.startswith(LINK_LOCAL) for each in interface.addresses):
        what = f"{seen}: an address that it gave itself because nobody else gave it one (RFC 3927)"
        return _check(name, State.REMARK, what, _give_address(addresses))
    return _check(name, State.WELL, seen)


def judge_any(interfaces: Sequence[Interface], addresses: Sequence[str]) -> Check:
    """Judge them all, where none of them is known to be meant."""
    found = usable(interfaces)
    if found:
        return _check(
            "any", State.WELL, "; ".join(f"{each.name} is up, {networks_text(each)}" for each in found)
        )
    others = [each for each in interfaces if not each.is_loopback]
    if not others:
        return _check(ANY, State.BROKEN, "there is none but loopback", "Plug in a network adapter")
    worst = [judge_interface(each, addresses) for each in others]
    told = "; ".join(f"{each.subject}: {each.saw}" for each in worst)
    steps = ". ".join(f"{each.subject}: {each.instead}" if len(worst) > 1 else each.instead for each in worst)
    return _check(ANY, State.BROKEN, f"none can carry levels: {told}", steps)


def judge_air(interface: Interface, *, has_groups: bool) -> Check:
    """Judge whether levels leave through the air, and as what."""
    looked_at = "what kind of interface it is"
    if interface.is_wireless is None:
        what = "this system does not tell whether it is wireless"
        return Check(Link.AIR, interface.name, State.NOT_LOOKED_AT, looked_at, what)
    if not interface.is_wireless:
        return Check(Link.AIR, interface.name, State.WELL, looked_at, "no wireless one")
    if has_groups:
        # IEEE 802.11-2020 clause 9.3.6: group frames are not acknowledged, so nobody sends them again.
        what = (
            "wireless, and multicast goes through the air at its slowest rate and is not sent again when lost"
        )
        instead = "Use a cable, or write the controllers' own addresses instead of multicast"
    else:
        what = "wireless: frames come late or in bunches when the air is busy"
        instead = "Use a cable for a show; for a walk round the house it may do"
    return Check(Link.AIR, interface.name, State.REMARK, looked_at, what, instead)


def _check(subject: str, state: State, saw: str, instead: str = "") -> Check:
    return Check(Link.INTERFACE, subject, state, LOOKED_AT, saw, instead)


def _carrier_text(interface: Interface) -> str:
    if interface.is_loopback:
        return ", this machine itself"
    if interface.has_carrier is None:
        return ", whether a cable is in is not told here"
    return ", in a wireless network" if interface.is_wireless else ", a cable with something at its other end"


def _give_address(addresses: Sequence[str]) -> str:
    numeric = [each for each in addresses if not is_ipv6(each)]
    example = beside(numeric[0] if numeric else EXAMPLE, numeric)
    return f"Give it an address in the controllers' network that nobody else has, such as {example}"
