"""The witness judged: whatever is bent on the way from the sender to the lights, the findings say so."""

from dataclasses import replace
from typing import Any
from uuid import UUID

import pytest

from streamer.display.model import Protocol
from streamer.wire import artnet, e131
from tests.demo.conftest import DATA, TERMINATION, Sent, Trial

MIDDLE = 6
ELSEWHERE = ("127.0.0.1", 40_001)


def of(trial: Trial, protocol: Protocol, kind: str = DATA) -> list[int]:
    """Return where in the script the packets of a protocol and kind are."""
    return [
        index
        for index, each in enumerate(trial.script.sent)
        if (each.protocol, each.kind) == (protocol, kind)
    ]


def with_bent(trial: Trial, index: int, octet: int, value: int | None = None) -> list[Sent]:
    """Return the script's packets with one octet of one of them changed."""
    sent = list(trial.script.sent)
    sent[index] = sent[index].bent(octet, value)
    return sent


def test_a_faultless_run_is_all_right(trial: Trial):
    """Every packet as it was written: no fault, three looks, all lights right."""
    findings = trial.hear(trial.script.sent)
    assert findings.faults == []
    assert findings.all_right
    assert [look.show for look in findings.looks] == ["walk", "fixtures", "dark"]
    assert all(look.nodes == 20 and look.channels == 5 for look in findings.looks)


@pytest.mark.parametrize("octet", range(e131.SLOTS_OCTET))
def test_any_header_octet_of_e131_that_is_changed_is_reported(trial: Trial, octet: int):
    """ANSI E1.31-2018 Tables 6-5 and 7-8: the header has 126 octets, the START code among them."""
    findings = trial.hear(with_bent(trial, of(trial, Protocol.E131)[MIDDLE], octet))
    assert not findings.all_right


@pytest.mark.parametrize("octet", range(artnet.SLOTS_OCTET))
def test_any_header_octet_of_artnet_that_is_changed_is_reported(trial: Trial, octet: int):
    """Art-Net 4, ArtDmx: the header has 18 octets."""
    findings = trial.hear(with_bent(trial, of(trial, Protocol.ARTNET)[MIDDLE], octet))
    assert not findings.all_right


@pytest.mark.parametrize("protocol", list(Protocol))
@pytest.mark.parametrize("slot", [0, 17, 29, 30, 98, 101, 511])
def test_any_slot_that_is_changed_is_reported(trial: Trial, protocol: Protocol, slot: int):
    """Nodes' slots, the fixtures' and those that carry nothing, by as little as one."""
    octet = slot + (e131.SLOTS_OCTET if protocol is Protocol.E131 else artnet.SLOTS_OCTET)
    index = of(trial, protocol)[MIDDLE]
    findings = trial.hear(with_bent(trial, index, octet, trial.script.sent[index].payload[octet] ^ 1))
    assert any("slots" in fault for fault in findings.faults)
    assert sum(heard.wrong for heard in findings.witness.heard.values()) == 1


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_packet_too_long_is_reported(trial: Trial, protocol: Protocol):
    """Receivers ignore octets after the packet; a sender that adds some is wrong all the same."""
    sent, index = list(trial.script.sent), of(trial, protocol)[MIDDLE]
    sent[index] = replace(sent[index], payload=sent[index].payload + b"\0")
    assert not trial.hear(sent).all_right


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_packet_that_is_lost_without_a_reason_is_reported(trial: Trial, protocol: Protocol):
    """By its sequence, and by the sender's own count."""
    sent = list(trial.script.sent)
    del sent[of(trial, protocol)[MIDDLE]]
    findings = trial.hear(sent)
    assert [heard.lost for key, heard in findings.witness.heard.items() if key.protocol is protocol] == [1]
    assert findings.missing == 1
    assert not findings.all_right


def test_a_packet_that_this_machine_was_too_slow_for_is_told_but_is_no_fault(trial: Trial):
    """What arrived was right, and the system says that it dropped one."""
    sent = list(trial.script.sent)
    del sent[of(trial, Protocol.ARTNET)[MIDDLE]]
    findings = trial.hear(sent, unheard=1)
    assert findings.all_right
    assert "too slow to hear 1 packets" in findings.text()


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_packet_that_comes_twice_is_reported(trial: Trial, protocol: Protocol):
    """The same octets again."""
    sent, index = list(trial.script.sent), of(trial, protocol)[MIDDLE]
    findings = trial.hear([*sent[: index + 1], sent[index], *sent[index + 1 :]])
    assert any("sequence" in fault for fault in findings.faults)
    assert any("more arrived" in fault for fault in findings.faults)


@pytest.mark.parametrize("protocol", list(Protocol))
def test_packets_in_the_wrong_order_are_reported(trial: Trial, protocol: Protocol):
    """Two neighbours of one stream change places."""
    sent, (one, two) = list(trial.script.sent), of(trial, protocol)[MIDDLE : MIDDLE + 2]
    sent[one], sent[two] = (
        replace(sent[two], now_s=sent[one].now_s),
        replace(sent[one], now_s=sent[two].now_s),
    )
    assert any("sequence" in fault for fault in trial.hear(sent).faults)


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_step_that_comes_again_is_reported(trial: Trial, protocol: Protocol):
    """The sequence goes on, but the picture is that of two steps before."""
    sent, indexes = list(trial.script.sent), of(trial, protocol)
    slots = e131.SLOTS_OCTET if protocol is Protocol.E131 else artnet.SLOTS_OCTET
    old, index = sent[indexes[MIDDLE - 2]], indexes[MIDDLE]
    sent[index] = replace(sent[index], payload=sent[index].payload[:slots] + old.payload[slots:])
    assert any("goes back" in fault for fault in trial.hear(sent).faults)


@pytest.mark.parametrize("protocol", list(Protocol))
def test_a_step_that_comes_too_early_is_reported(trial: Trial, protocol: Protocol):
    """The sequence goes on, but the picture is that of four steps later."""
    sent, indexes = list(trial.script.sent), of(trial, protocol)
    slots = e131.SLOTS_OCTET if protocol is Protocol.E131 else artnet.SLOTS_OCTET
    later, index = sent[indexes[MIDDLE]], indexes[2]
    sent[index] = replace(sent[index], payload=sent[index].payload[:slots] + later.payload[slots:])
    assert any("leaps" in fault for fault in trial.hear(sent).faults)


def test_lights_left_lit_are_reported(trial: Trial):
    """The sender ends in the middle of the show: no dark frame, but the terminations."""
    dark = set(of(trial, Protocol.E131)[-4:] + of(trial, Protocol.ARTNET)[-4:])
    sent = [each for index, each in enumerate(trial.script.sent) if index not in dark]
    findings = trial.hear(sent, packets=len(sent))
    assert any("left lit" in fault for fault in findings.faults)
    assert not findings.looks[-1].is_right


def test_a_termination_that_is_missing_is_reported(trial: Trial):
    """ANSI E1.31-2018 clause 6.2.6: three of them."""
    sent = trial.script.sent[:-1]
    findings = trial.hear(sent, packets=len(sent))
    assert findings.faults == ["universe 7: 2 terminations, not 3"]


def test_a_termination_in_the_middle_is_reported(trial: Trial):
    """The Stream_Terminated bit, octet 112, in a packet of the show."""
    index = of(trial, Protocol.E131)[MIDDLE]
    findings = trial.hear(with_bent(trial, index, e131.OPTIONS_OCTET, 0x40))
    assert any("terminated in the middle" in fault for fault in findings.faults)


def test_levels_after_the_end_are_reported(trial: Trial):
    """A stream that was terminated says no more."""
    sent, index = list(trial.script.sent), of(trial, Protocol.E131, TERMINATION)[1]
    assert any("after its end" in fault for fault in trial.hear(with_bent(trial, index, 112, 0)).faults)
    assert len(sent) == len(trial.script.sent)


def test_nothing_at_all_is_reported(trial: Trial):
    """A witness that heard nothing has proven nothing."""
    sent = [each for each in trial.script.sent if each.protocol is Protocol.E131]
    findings = trial.hear(sent, packets=len(sent))
    assert "Port-Address 7 (0:0:7): nothing arrived" in findings.faults


def test_a_fixture_that_ignores_the_level_rule_is_reported(trial: Trial):
    """A flood without a dimmer whose red is sent at full: 255, not 30 % of it, rounded down: 76."""
    lit = [
        index
        for index in of(trial, Protocol.ARTNET)
        if trial.script.sent[index].payload[artnet.SLOTS_OCTET + 99]
    ]
    assert trial.script.sent[lit[0]].payload[artnet.SLOTS_OCTET + 99] == 76
    findings = trial.hear(with_bent(trial, lit[0], artnet.SLOTS_OCTET + 99, 255))
    assert any("slots that no step" in fault for fault in findings.faults)


def test_somebody_elses_packets_are_told_and_do_no_harm(trial: Trial):
    """Another program of this machine sends to the same universe: told, but no fault of ours."""
    stranger = e131.DataPacket(
        e131.parse(trial.script.sent[0].payload).cid.__class__(int=1), "Stranger", 7, bytes([255] * 512)
    )
    other = replace(
        trial.script.sent[MIDDLE], payload=stranger.encode(), source=ELSEWHERE, protocol=Protocol.E131
    )
    sent = [*trial.script.sent[:MIDDLE], other, *trial.script.sent[MIDDLE:]]
    findings = trial.hear(sent)
    assert findings.all_right
    assert findings.as_dict()["foreign"] == {"another source on universe 7": 1}


def test_universe_discovery_is_compared_with_the_plan(trial: Trial):
    """ANSI E1.31-2018 clause 8: the list of a source's universes; a wrong one is a fault, none is told."""
    cid = e131.parse(trial.script.sent[0].payload).cid
    assert trial.hear(trial.script.sent).as_dict()["discovery"] is None
    for universes, is_right in (((7,), True), ((7, 8), False)):
        page = e131.DiscoveryPacket(cid, "Ropewalk", universes).encode()
        heard = replace(trial.script.sent[2], payload=page, source=ELSEWHERE, protocol=Protocol.E131)
        findings = trial.hear([*trial.script.sent[:2], heard, *trial.script.sent[2:]])
        assert findings.as_dict()["discovery"] == list(universes)
        assert findings.all_right is is_right


@pytest.mark.parametrize("before", [0, 2])
def test_another_source_of_our_name_may_announce_what_it_likes(trial: Trial, before: int):
    """ANSI E1.31-2018 clause 5.6: the CID tells sources apart, the name does not."""
    page = e131.DiscoveryPacket(UUID(int=7), "Ropewalk", (1, 2, 3)).encode()
    heard = replace(trial.script.sent[2], payload=page, source=ELSEWHERE, protocol=Protocol.E131)
    findings = trial.hear([*trial.script.sent[:before], heard, *trial.script.sent[before:]])
    assert findings.all_right
    assert findings.as_dict()["discovery"] is None
    assert findings.as_dict()["foreign"] == {"universe discovery of 'Ropewalk'": 1}


def test_the_findings_have_keys_that_stay(trial: Trial):
    """The README promises them to scripts."""
    found: dict[str, Any] = trial.hear(trial.script.sent).as_dict()
    assert list(found) == [
        *("all_right", "faults", "display", "shows", "sent", "missing", "unheard", "arrived", "lights"),
        *("discovery", "foreign"),
    ]
    assert set(found["arrived"][0]) == {
        *("protocol", "universe", "text", "address", "packets", "lost", "wrong", "terminated", "is_dark"),
    }
    assert set(found["lights"][0]) == {
        *("show", "step", "nodes", "nodes_wrong", "channels", "channels_wrong", "right"),
    }
