"""The judgement from facts: for each case which link is broken, in which words, and what rests on it."""

from dataclasses import dataclass, field, replace

import pytest

from streamer.display.model import Protocol
from streamer.doctor.chain import examine
from streamer.doctor.checks import Check, Link, State, first_broken
from streamer.doctor.facts import Answered, GroupsSeen, PortSeen, Refusal, Returned, RunSeen, Way
from streamer.doctor.hearing import judge_own_multicast
from streamer.hear.conflicts import Ours, conflicts
from streamer.net.interfaces import Ipv4
from streamer.wire.artnet import ArtDmx
from tests.doctor.eyes import LO, SHED, MadeUp, display
from tests.hear.bench import ADDRESS, B, Bench, data

JETTY, LOFT = "10.61.0.2", "10.61.0.3"
GROUP = "239.255.0.1"
"""ANSI E1.31-2018 Table 9-10: that of universe 1."""
DOWN = replace(SHED, is_up=False, has_carrier=None)
NO_WAY = Way(refused="ENETUNREACH")
AIR = replace(SHED, name="air0", index=3, is_wireless=True)
SILENT = Answered(was_asked=True, patience_s=3)
FORBIDDEN = Refusal("this system does not let this user do that", "sysctl -w net.ipv4.ping_group_range")


@dataclass(frozen=True)
class Case:
    """Facts, and what is to be said of them."""

    eyes: MadeUp
    link: Link
    """The one that is told."""
    state: State
    saw: str
    instead: str
    at: dict[str, str] = field(default_factory=lambda: {"jetty": JETTY})
    chosen: str | None = None
    rest: frozenset[Link] = frozenset()
    """The links that are not looked at for that."""


DEAF = frozenset({Link.GROUPS, Link.OTHERS})
CASES = {
    "the interface is down": Case(
        MadeUp((LO, DOWN), {JETTY: NO_WAY}),
        *(Link.INTERFACE, State.BROKEN, "switched off (10.61.0.1/24)", "ip link set shed0 up"),
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "the one that would lead there is down, and another has a route": Case(
        MadeUp(
            (LO, DOWN, replace(AIR, addresses=(Ipv4("192.168.7.2", "255.255.255.0", None),))),
            {JETTY: Way("air0", "192.168.7.2")},
        ),
        *(Link.INTERFACE, State.BROKEN, "switched off (10.61.0.1/24)", "ip link set shed0 up"),
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "no cable": Case(
        MadeUp((LO, replace(SHED, has_carrier=False))),
        *(Link.INTERFACE, State.BROKEN, "its cable leads nowhere", "Plug it in"),
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "in no wireless network": Case(
        MadeUp((LO, replace(SHED, has_carrier=False, is_wireless=True))),
        *(Link.INTERFACE, State.BROKEN, "in no wireless network", "Connect it"),
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "no address": Case(
        MadeUp((LO, replace(SHED, addresses=()))),
        *(Link.INTERFACE, State.BROKEN, "has no address", "such as 10.61.0.1/24"),
        chosen="shed0",
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "an address that it gave itself": Case(
        MadeUp((LO, replace(SHED, addresses=(Ipv4("169.254.3.4", "255.255.0.0", None),)))),
        *(Link.INTERFACE, State.REMARK, "RFC 3927", "such as 10.61.0.1/24"),
        chosen="shed0",
    ),
    "no such interface": Case(
        MadeUp(),
        *(Link.INTERFACE, State.BROKEN, "there is no such interface", "shed0 (10.61.0.1)"),
        chosen="shed7",
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "nothing but loopback": Case(
        MadeUp((LO,), {JETTY: NO_WAY}),
        *(Link.INTERFACE, State.BROKEN, "none but loopback", "Plug in a network adapter"),
        rest=DEAF | {Link.WAY, Link.ANSWER},
    ),
    "another subnet, and no route": Case(
        MadeUp(ways={"192.168.7.50": NO_WAY}),
        *(
            Link.WAY,
            State.BROKEN,
            "shed0 has 10.61.0.1/24",
            "such as 192.168.7.1/24, or the controller one in 10.61",
        ),
        {"jetty": "192.168.7.50"},
        rest=frozenset({Link.ANSWER}),
    ),
    "another subnet, and a router": Case(
        MadeUp(),
        *(Link.WAY, State.REMARK, "to a router by shed0", "Leave it only if that router leads there"),
        {"jetty": "192.168.7.50"},
    ),
    "silence behind a router": Case(
        MadeUp(answered={"192.168.7.50": SILENT}),
        *(Link.ANSWER, State.BROKEN, "nothing within 3 s", "beside the controller's, such as 192.168.7.1/24"),
        {"jetty": "192.168.7.50"},
    ),
    "our own address": Case(
        MadeUp(),
        *(Link.WAY, State.REMARK, "has that address itself", "correct the address"),
        {"jetty": "10.61.0.1"},
    ),
    "two interfaces in one network": Case(
        MadeUp((LO, SHED, AIR)),
        *(Link.WAY, State.REMARK, "shed0 and air0 are all in its", "--interface air0"),
    ),
    "no route for multicast": Case(
        MadeUp(ways={GROUP: NO_WAY}),
        *(Link.GROUPS_WAY, State.BROKEN, "no way to that network", "ip route add 239.255.0.0/16 dev shed0"),
        {"lawn": "multicast"},
        rest=frozenset({Link.GROUPS, Link.OWN_MULTICAST, Link.ANSWER}),
    ),
    "multicast by one of two": Case(
        MadeUp((LO, SHED, AIR)),
        *(Link.GROUPS_WAY, State.REMARK, "by shed0 alone", "--interface air0"),
        {"lawn": "multicast"},
        rest=frozenset({Link.ANSWER}),
    ),
    "multicast that stays inside": Case(
        MadeUp(ways={GROUP: Way("lo", "127.0.0.1")}),
        *(Link.GROUPS_WAY, State.BROKEN, "inside this machine", "--interface shed0"),
        {"lawn": "multicast"},
        rest=frozenset({Link.GROUPS, Link.OWN_MULTICAST, Link.ANSWER}),
    ),
    "the port is taken": Case(
        MadeUp(
            ports={
                Protocol.E131: PortSeen(
                    5568,
                    "process 4711 (player)",
                    True,
                    Refusal("held by process 4711 (player)", "End that program"),
                )
            }
        ),
        *(Link.PORT, State.BROKEN, "process 4711", "End that program"),
        rest=DEAF,
    ),
    "the port is shared": Case(
        MadeUp(ports={Protocol.E131: PortSeen(5568, "process 4711 (player)", is_taken=True)}),
        *(Link.PORT, State.REMARK, "process 4711 (player) holds it too", "end it"),
    ),
    "groups that cannot be joined, and are needed": Case(
        MadeUp(joined=GroupsSeen(1, Refusal("it was refused", "Choose another"))),
        *(Link.GROUPS, State.BROKEN, "it was refused", "Choose another"),
        {"lawn": "multicast"},
        rest=frozenset({Link.OWN_MULTICAST, Link.ANSWER}),
    ),
    "groups that cannot be joined, and are not needed": Case(
        MadeUp(joined=GroupsSeen(1, Refusal("it was refused", "Choose another"))),
        *(Link.GROUPS, State.REMARK, "others who send there are not heard", "Choose another"),
    ),
    "multicast that does not come back": Case(
        MadeUp(silent=[GROUP]),
        *(Link.OWN_MULTICAST, State.BROKEN, f"1 of 1 groups ({GROUP})", "firewall"),
        {"lawn": "multicast"},
        rest=frozenset({Link.ANSWER}),
    ),
    "silence": Case(
        MadeUp(answered={JETTY: SILENT}),
        *(Link.ANSWER, State.BROKEN, "nothing within 3 s", "Check its power"),
    ),
    "no echo may be asked for": Case(
        MadeUp(answered={JETTY: Answered(no_echo=FORBIDDEN)}),
        *(Link.ANSWER, State.NOT_LOOKED_AT, "does not let this user", "ping_group_range"),
        rest=frozenset({Link.ANSWER}),
    ),
    "an echo and no answer to ArtPoll": Case(
        MadeUp(answered={LOFT: Answered(was_polled=True, was_asked=True, echo_after_s=0.001)}),
        *(Link.ANSWER, State.REMARK, "an echo after 1.0 ms, but no answer to ArtPoll", "Switch Art-Net on"),
        {"art": LOFT},
    ),
    "ArtPoll answered where no echo may be asked for": Case(
        MadeUp(answered={LOFT: Answered(was_polled=True, nodes=("'strand'",), no_echo=FORBIDDEN)}),
        *(Link.ANSWER, State.WELL, "'strand' answered", ""),
        {"art": LOFT},
    ),
    "ArtPoll not answered where no echo may be asked for": Case(
        MadeUp(answered={LOFT: Answered(was_polled=True, no_echo=FORBIDDEN, patience_s=3)}),
        *(Link.ANSWER, State.BROKEN, "nothing within 3 s; this system does not let", "Check its power"),
        {"art": LOFT},
    ),
    "one run of ours": Case(
        MadeUp(running=(RunSeen("screen", ("universe 1",), "walk"),)),
        *(Link.RUNS, State.REMARK, "it sends 'walk' to universe 1 now", "ropewalk stop screen"),
    ),
    "multicast through the air": Case(
        MadeUp((LO, replace(SHED, is_wireless=True))),
        *(Link.AIR, State.REMARK, "slowest rate", "Use a cable"),
        {"lawn": "multicast"},
        rest=frozenset({Link.ANSWER}),
    ),
    "single addresses through the air": Case(
        MadeUp((LO, replace(SHED, is_wireless=True))),
        *(Link.AIR, State.REMARK, "late or in bunches", "Use a cable"),
    ),
}


def checks_of(case: Case) -> list[Check]:
    """Return the checks of a case."""
    return list(examine(display(**case.at), case.chosen, case.eyes))


@pytest.mark.parametrize("name", CASES)
def test_a_broken_link_is_told_with_what_to_do_and_what_rests_on_it(name: str):
    """And nothing else is broken, or left out."""
    case = CASES[name]
    checks = checks_of(case)
    (told,) = [each for each in checks if each.link is case.link]
    assert told.state is case.state
    assert case.saw in told.saw, told
    assert case.instead in told.instead, told
    broken = first_broken(checks)
    assert broken == (told if case.state is State.BROKEN else None)
    assert {each.link for each in checks if each.state is State.NOT_LOOKED_AT} == case.rest
    assert all(each.looked_at and each.saw and not each.saw.endswith(".") for each in checks)
    assert all(bool(each.instead) for each in checks if each.state in {State.REMARK, State.BROKEN})


def test_all_well_goes_along_the_whole_chain_in_its_order():
    """Each link once for one controller of each protocol and multicast."""
    eyes = MadeUp(
        answered={LOFT: Answered(was_polled=True, nodes=("'strand'",), was_asked=True, echo_after_s=0.001)}
    )
    checks = list(examine(display(jetty=JETTY, art=LOFT, lawn="multicast"), None, eyes))
    links = list(dict.fromkeys(each.link for each in checks))
    assert links == [each for each in Link if each is not Link.FILE]
    assert {each.state for each in checks if each.subject != "lawn (multicast)"} == {State.WELL}
    assert eyes.asked[-4:] == ["own multicast", "ask", "others", "runs"]


def test_two_runs_of_ours_disturb_each_other():
    """ANSI E1.31-2018 clause 6.2.3: both have one priority."""
    both = tuple(RunSeen(name, ("universe 1",), "walk") for name in ("screen", "shed"))
    checks = list(examine(display(jetty=JETTY), None, MadeUp(running=both)))
    assert [each.state for each in checks if each.link is Link.RUNS] == [State.BROKEN, State.BROKEN]


def test_what_does_not_rest_on_a_broken_link_is_still_looked_at():
    """One controller has no way, the other answers; Art-Net's port is taken, an echo is asked for."""
    taken = PortSeen(6454, "process 4711 (player)", True, Refusal("held by process 4711 (player)", "End it"))
    eyes = MadeUp(ways={"192.168.7.50": NO_WAY}, ports={Protocol.ARTNET: taken})
    checks = list(examine(display(jetty="192.168.7.50", art=LOFT), None, eyes))
    states = {(each.link, each.subject.split()[0]): each.state for each in checks}
    assert states[Link.WAY, "jetty"] is State.BROKEN
    assert states[Link.ANSWER, "jetty"] is State.NOT_LOOKED_AT
    assert states[Link.ANSWER, "art"] is State.WELL
    assert states[Link.OTHERS, "none"] is State.WELL
    assert "ask without polls" in eyes.asked


def test_names_from_the_file_steer_nothing():
    """A name with an escape sequence is quoted."""
    odd = display(jetty=JETTY)
    named = odd.controllers[0].model_copy(update={"name": "x\x1b[2J"})
    checks = list(examine(odd.model_copy(update={"controllers": (named,)}), None, MadeUp()))
    assert all(each.subject.isprintable() and each.saw.isprintable() for each in checks)


@pytest.mark.parametrize(
    ("theirs", "state", "saw"),
    [
        (99, State.REMARK, "ours wins"),
        (100, State.BROKEN, "merge the two or choose one"),
        (101, State.BROKEN, "it wins, by E1.31"),
    ],
)
def test_another_source_is_broken_unless_ours_wins(theirs: int, state: State, saw: str):
    """ANSI E1.31-2018 clause 6.2.3: the highest priority counts."""
    bench = Bench()
    bench.give(data(cid=B, priority=theirs))
    ours = Ours("", frozenset(), {(Protocol.E131, 1): 100})
    found = conflicts(ours, bench.table.heard([], bench.now))
    checks = list(examine(display(jetty=JETTY), None, MadeUp(conflicts=found)))
    (told,) = [each for each in checks if each.link is Link.OTHERS]
    assert (told.state, ADDRESS in told.subject) == (state, True)
    assert saw in told.saw
    assert told.instead.startswith("Stop it")


def test_another_source_of_art_net_is_broken():
    """Art-Net 4, merging: it has no priorities."""
    bench = Bench()
    bench.give(ArtDmx(2, bytes(4)))
    found = conflicts(Ours("", frozenset(), {(Protocol.ARTNET, 2): 100}), bench.table.heard([], bench.now))
    checks = list(examine(display(jetty=JETTY, art=LOFT), None, MadeUp(conflicts=found)))
    (told,) = [each for each in checks if each.link is Link.OTHERS]
    assert (told.state, told.subject) == (State.BROKEN, ADDRESS)
    assert "Port-Address 2 (0:0:2)" in told.saw


def test_a_listener_on_the_port_is_in_nobodys_way():
    """As `ropewalk hear` and `send` are: they share the port, and take nothing from others."""
    eyes = MadeUp(ports={Protocol.E131: PortSeen(5568, "process 4711 (ropewalk)")})
    checks = list(examine(display(jetty=JETTY), None, eyes))
    assert [each.state for each in checks if each.link is Link.PORT] == [State.WELL]


def test_our_own_yard_on_the_port_is_told_as_what_it_is():
    """A rehearsal: nothing is wrong, and what to do before the lights themselves is said."""
    taken = PortSeen(5568, "process 4711 (python3)", is_taken=True, is_our_yard=True)
    checks = examine(display(jetty=JETTY), None, MadeUp(ports={Protocol.E131: taken}))
    (found,) = [each for each in checks if each.link is Link.PORT]
    assert (found.state, found.instead) == (State.WELL, "")
    assert "your own yard" in found.saw
    assert "end it before you go to the lights" in found.saw


def test_groups_of_ipv4_are_no_matter_to_a_display_of_ipv6():
    """They are joined to hear others; its own multicast is looked at all the same."""
    eyes = MadeUp(joined=GroupsSeen(1, Refusal("no way there", "Choose another")))
    checks = list(examine(display(six="multicast6"), None, eyes))
    states = {each.link: each.state for each in checks}
    assert (states[Link.GROUPS], states[Link.OWN_MULTICAST]) == (State.REMARK, State.WELL)


def test_a_silent_controller_whose_hardware_address_is_known_is_a_remark():
    """It may be told not to answer an echo: RFC 1122 clause 3.2.2.6 asks hosts to, firewalls do not."""
    silent = Answered(was_asked=True, resolved_s_ago=1.4, patience_s=3)
    (answer,) = [
        each
        for each in examine(display(jetty=JETTY), None, MadeUp(answered={JETTY: silent}))
        if each.link is Link.ANSWER
    ]
    assert answer.state is State.REMARK
    assert answer.saw == (
        "nothing within 3 s, but a device has that address: its hardware address was confirmed 1 s ago"
    )
    assert "no other device has its address" in answer.instead


def test_groups_that_were_not_tried_are_told():
    """There is a limit to how many are."""
    heard = Returned(("239.255.0.1",), frozenset({"239.255.0.1"}), untried=44)
    assert judge_own_multicast(heard).saw.startswith("all 1 groups came back; 44 more were not tried.")
    assert (
        "(239.255.0.1); 44 more were not tried"
        in judge_own_multicast(Returned(("239.255.0.1",), frozenset(), untried=44)).saw
    )


def test_silence_of_everybody_is_broken():
    """A broadcast address is asked by ArtPoll alone."""
    eyes = MadeUp(answered={"10.61.0.255": Answered(was_polled=True, patience_s=3)})
    checks = list(examine(display(art="10.61.0.255"), None, eyes))
    (told,) = [each for each in checks if each.link is Link.ANSWER]
    assert (told.state, "Art-Net is switched on" in told.instead) == (State.BROKEN, True)
