"""Judges whether a controller answers: to ArtPoll, to an echo, to neither."""

from streamer.display.model import GROUPS, Controller, Protocol
from streamer.doctor.checks import Check, Link, State
from streamer.doctor.facts import Answered, Refusal
from streamer.doctor.ways import subject_of

MS_PER_S = 1_000
NODES_TOLD = 3
EVERYBODY = "Check the nodes' power and cables, and that Art-Net is switched on in them"
LAMPS = "See by its lamps whether data comes in, and make sure that no other device has its address"
POWER = "Check its power, its cable and the address that it shows, and the switch between"


def looks_at(controller: Controller, answered: Answered) -> str:
    """Return what was asked, in words."""
    asked = ["ArtPoll"] * answered.was_polled + ["an echo (ICMP)"] * answered.was_asked
    return f"the answer to {' and '.join(asked)}" if asked else f"whether {controller.address} can be asked"


def judge_answer(controller: Controller, answered: Answered, way: Check | None) -> Check:
    """Judge one controller; `way` is what was found of the way there."""
    looked_at = looks_at(controller, answered)

    def found(state: State, saw: str, instead: str = "") -> Check:
        return Check(Link.ANSWER, subject_of(controller), state, looked_at, saw, instead)

    if controller.address in GROUPS:
        what = "the file gives it no address of its own, and multicast is not answered"
        return found(State.NOT_LOOKED_AT, what, "See by its lamps whether data comes in")
    if answered.nodes:
        return found(State.WELL, f"{_nodes(answered)} answered{_echo_text(answered)}")
    if answered.echo_after_s is not None:
        return _echo_alone(controller, answered, looked_at)
    silence = f"nothing within {answered.patience_s:g} s"
    if answered.was_asked or answered.was_polled:
        if answered.resolved_s_ago is not None:
            known = f"its hardware address was confirmed {answered.resolved_s_ago:.0f} s ago"
            return found(State.REMARK, f"{silence}, but a device has that address: {known}", LAMPS)
        routed = way is not None and way.state is State.REMARK
        check = POWER if answered.was_asked or answered.no_echo else EVERYBODY
        instead = f"{way.instead}. {check}" if routed and way else check
        without_echo = f"; {answered.no_echo.what}" if answered.no_echo else ""
        return found(State.BROKEN, f"{silence}{without_echo}", instead)
    everybody = Refusal("it goes to everybody, who are not asked for an echo", "")
    refused = answered.no_echo or everybody
    return found(State.NOT_LOOKED_AT, refused.what, refused.instead)


def _echo_alone(controller: Controller, answered: Answered, looked_at: str) -> Check:
    echo = _echo_text(answered).removeprefix(", ")
    if controller.protocol is Protocol.ARTNET and answered.was_polled:
        what = f"{echo}, but no answer to ArtPoll: it is there, and may not listen to Art-Net"
        instead = "Switch Art-Net on in the controller; some simple ones never answer ArtPoll"
        return Check(Link.ANSWER, subject_of(controller), State.REMARK, looked_at, what, instead)
    more = "" if controller.protocol is Protocol.E131 else "; ArtPoll was not asked, for want of the port"
    return Check(Link.ANSWER, subject_of(controller), State.WELL, looked_at, f"{echo}{more}")


def _nodes(answered: Answered) -> str:
    told, more = answered.nodes[:NODES_TOLD], len(answered.nodes) - NODES_TOLD
    return ", ".join(told) + (f" and {more} more" if more > 0 else "")


def _echo_text(answered: Answered) -> str:
    if answered.echo_after_s is None:
        return ""
    return f", an echo after {answered.echo_after_s * MS_PER_S:.1f} ms"
