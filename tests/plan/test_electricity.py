"""Power in a plan: the numbers of the circuit, findings weighed, and nothing assumed in silence."""

from typing import Any

import pytest

from streamer.display.electrics import Lead, Supply, Wire
from streamer.display.model import Display
from streamer.display.sample import sample_display
from streamer.plan.electricity import RESTS, Power, power_of
from streamer.plan.findings import Severity
from streamer.power.plan import power_plan
from tests.plan.lake import controller, display, flood, port

WIRE = Wire(awg=18)
LEVEL_PERCENT = 100


def said(amps: float, nodes: int = 50, **more: Any) -> Display:
    """Return a display that leaves nothing about power unsaid, on a supply of so many amperes."""
    string = port(
        *(1, 1, 1, nodes),
        node_kind="12 V regulated",
        wire=WIRE,
        supply="shed",
        lead=Lead(length_m=1, wire=WIRE),
        **more,
    )
    supplies = (Supply(name="shed", volts=12, amps=amps),)
    return display(controller(string)).model_copy(update={"supplies": supplies})


def power(what: Display, level_percent: float = LEVEL_PERCENT) -> Power:
    """Return its power in a plan's words."""
    return power_of(what, power_plan(what, level_percent), "No frame.")


def test_the_numbers_are_those_of_the_circuit():
    """Port by port: amperes, the lowest voltage and its node; what a fuse has left (NEC 210.20(A): 80 %)."""
    lake = said(20, fuse_a=5)
    computed = power_plan(lake, 30).ports[0]
    current = power(lake, 30).currents["jetty/1"]
    assert (current.full_a, current.level_a) == (computed.white.amps, computed.level.amps)
    assert current.full_lowest is not None
    assert current.full_lowest.volts == computed.white.volts.min()
    assert current.full_lowest.node == 50
    assert current.feeds[0].margin_a == pytest.approx(0.8 * 5 - computed.level.amps)


def test_a_supply_that_is_too_small_at_the_level_is_a_fault():
    """The file says all that it rests on. At a tenth of the brightness it is a warning of full white."""
    small = said(1)
    (fault,) = power(small).findings
    assert (fault.severity, fault.place) == (Severity.FAULT, "shed")
    assert [each.severity for each in power(small, 10).findings] == [Severity.WARNING]


def test_what_rests_on_an_assumption_is_never_a_fault():
    """1,000 nodes of nobody knows what: a warning, which says so."""
    found = power(display(controller(port(1, 1, nodes=1000)))).findings
    assert {each.severity for each in found} == {Severity.WARNING}
    assert all(RESTS in each.instead for each in found if each.place == "jetty/1")
    assert "jetty/1" in {each.place for each in found}


def test_a_hundred_ports_of_one_fault_are_one_finding():
    """And one sentence for each thing that is assumed of them all."""
    many = power(display(controller(*(port(n, n, nodes=500) for n in range(1, 101)))))
    (found,) = many.findings
    assert found.place == "jetty/1, jetty/2, jetty/3 and 97 more"
    assert len([each for each in many.assumptions if "and 97 more" in each]) == 5


def test_every_assumption_of_every_port_is_told():
    """Kind, wire, spacing, supply and lead; the copper, the margin; that fixtures are not counted."""
    told = power(display(controller(port(1, 1, nodes=1000), fixtures=(flood(9),)))).assumptions
    for words in ("no node_kind", "no wire", "no spacing", "no supply", "no lead", "Copper", "80 %"):
        assert any(words in each for each in told), words
    assert any(each.startswith("Fixtures") for each in told)
    assert any(each.startswith("Where to inject") for each in told)


def test_the_sample_has_power_without_findings_or_assumptions_of_its_ports():
    """What the demo shows frightens nobody."""
    sample = power(sample_display())
    assert sample.findings == ()
    assert {current.assumptions for current in sample.currents.values()} == {()}
    assert all(current.inject is None for current in sample.currents.values())
