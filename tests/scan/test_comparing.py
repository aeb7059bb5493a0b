"""What was found beside a display file: as planned, otherwise and how, missing, more."""

import pytest

from streamer.display.file import parse
from streamer.display.model import Display
from streamer.scan.comparing import Comparison, Verdict, compare
from streamer.scan.differing import how_far
from streamer.scan.found import Found, Source
from streamer.scan.poller import Poller
from streamer.scan.runs import runs_text
from streamer.scan.telling import comparison_lines, found_lines, wrapped
from tests.scan.replies import outputs

SHED = "10.0.0.9"
BROADCAST = "10.0.0.255"


def display(*port_addresses: str, address: str = SHED, name: str = "shed", first: int = 1) -> Display:
    """Return a display of one Art-Net controller, each port with a string of 50 nodes."""
    ports = "".join(
        f'[[controllers.ports]]\nnumber = {number}\nport_address = "{each}"\nnodes = 50\n'
        for number, each in enumerate(port_addresses, start=first)
    )
    head = f'name = "Lake"\n[[controllers]]\nname = "{name}"\nprotocol = "artnet"\naddress = "{address}"\n'
    return parse(head + ports, "test")


def found(*replies: tuple[bytes, str], now: float = 1.0, sources: tuple[Source, ...] = ()) -> Found:
    """Return what a poller makes of these replies and the addresses that they came from."""
    asking = Poller([BROADCAST])
    asking.due(0.0)
    for octets, source in replies:
        asking.heard(octets, source, 0.5)
    if now > 2.75:
        asking.due(2.75)
    return Found(now, now, (BROADCAST,), (), 1, tuple(asking.devices(now)), sources)


def verdicts(comparison: Comparison) -> list[str]:
    """Return the verdicts, in order."""
    return [str(row.verdict) for row in comparison.rows]


def test_found_as_planned():
    """All Port-Addresses are there; one more output is told and is no fault."""
    comparison = compare(display("0:1:3", "0:1:4"), found((outputs(3, 4, 5), SHED)))
    (row,) = comparison.rows
    assert (row.verdict, row.name, row.device) == (Verdict.AS_PLANNED, "shed", SHED)
    assert row.sentences == ("outputs that nothing is planned for: 3: 21 (0:1:5)",)
    assert comparison.is_as_planned


def test_a_port_that_listens_one_off_is_told_with_both_numbers():
    """Which port, where it listens, what the plan says, and how far apart."""
    comparison = compare(display("0:1:1", "0:1:2", "0:1:3"), found((outputs(1, 2, 4), SHED)))
    (row,) = comparison.rows
    assert row.verdict is Verdict.OTHERWISE
    assert row.sentences[0] == "port 3 listens to 20 (0:1:4), the plan says 19 (0:1:3), one lower"
    assert not comparison.is_as_planned


def test_a_file_that_begins_at_port_3_is_compared_with_output_3():
    """Outputs go by the ports' own numbers, where each port has a universe of its own."""
    comparison = compare(display("0:1:3", first=3), found((outputs(1, 2, 4), SHED)))
    assert comparison.rows[0].sentences[0].startswith("port 3 listens to 20 (0:1:4)")


def test_all_ports_off_alike_are_told_in_one_sentence_first():
    """Counting from 0 or from 1: the commonest slip."""
    comparison = compare(display("0:1:0", "0:1:1"), found((outputs(1, 2), SHED)))
    # 0:1:1 is listened to, by the wrong port: by the universe alone that one is as planned.
    assert comparison.rows[0].sentences[0] == (
        "port 1 listens to 17 (0:1:1), the plan says 16 (0:1:0), one lower "
        "(it listens to what is planned for port 2)"
    )
    comparison = compare(display("0:0:1", "0:0:2"), found((outputs(1, 2), SHED)))
    assert comparison.rows[0].sentences[0] == (
        "all 2 that differ do so alike: the plan is 16 lower than the device"
    )


@pytest.mark.parametrize(
    ("listens", "planned", "words"),
    [
        (20, 19, "one lower"),
        (19, 21, "two higher"),
        (19, 35, "16 higher: Sub-Net 2 instead of 1"),
        (275, 19, "256 lower: Net 0 instead of 1"),
        (0, 17, "17 higher"),
    ],
)
def test_how_far_apart_is_said_in_the_parts_of_a_port_address(listens: int, planned: int, words: str):
    """Net is bits 14 to 8, Sub-Net 7 to 4, Universe 3 to 0: Art-Net 4, Port-Address."""
    assert how_far(listens, planned) == words


def test_a_string_over_two_universes_wants_two_outputs():
    """200 nodes are 600 slots; where a port has several universes outputs are counted through."""
    plan = display("0:1:3", "0:1:5")
    port = plan.controllers[0].ports[0]
    longer = port.model_copy(update={"segments": (port.segments[0].model_copy(update={"nodes": 200}),)})
    controller = plan.controllers[0].model_copy(update={"ports": (longer, plan.controllers[0].ports[1])})
    plan = plan.model_copy(update={"controllers": (controller,)})
    assert compare(plan, found((outputs(3, 4, 5), SHED))).is_as_planned
    (row,) = compare(plan, found((outputs(3, 4, 6), SHED))).rows
    assert row.sentences[0] == "output 3 (port 2) listens to 22 (0:1:6), the plan says 21 (0:1:5), one lower"
    (row,) = compare(plan, found((outputs(3, 4), SHED))).rows
    assert row.sentences[0] == "no output listens to 21 (0:1:5), planned for port 2"


def test_an_output_switched_to_e131_is_not_as_planned():
    """GoodOutputA bit 0."""
    (row,) = compare(display("0:1:3"), found((outputs(3, good_output=b"\x01"), SHED))).rows
    assert row.verdict is Verdict.OTHERWISE
    assert row.sentences[0] == "port 1 is switched to E1.31, the plan sends it Art-Net 19 (0:1:3)"


def test_planned_but_not_found_and_found_but_not_planned():
    """Each is told."""
    other = outputs(9, ip=bytes([10, 0, 0, 77]), short_name=b"barn")
    comparison = compare(display("0:1:3"), found((other, "10.0.0.77")))
    assert verdicts(comparison) == ["not found", "not planned"]
    assert comparison.rows[1].name == "barn"
    assert comparison.rows[1].sentences == ("it listens to 25 (0:1:9)",)
    assert not comparison.is_as_planned


def test_a_device_at_another_address_is_known_by_its_port_addresses():
    """It is not told twice, as missing and as too many."""
    moved = outputs(3, ip=bytes([10, 0, 0, 77]))
    comparison = compare(display("0:1:3"), found((moved, "10.0.0.77")))
    assert verdicts(comparison) == ["addressed otherwise"]
    assert comparison.rows[0].sentences[0] == (
        "at 10.0.0.77 it has the Port-Addresses that are planned for 10.0.0.9"
    )


def test_a_device_at_another_address_is_known_by_its_name():
    """And what else differs is told as well."""
    moved = outputs(4, ip=bytes([10, 0, 0, 77]))
    (row,) = compare(display("0:1:3"), found((moved, "10.0.0.77"))).rows
    assert row.verdict is Verdict.OTHERWISE
    assert row.sentences[1] == "port 1 listens to 20 (0:1:4), the plan says 19 (0:1:3), one lower"


def test_a_device_that_has_gone_silent_is_not_found():
    """For how long is told."""
    (row,) = compare(display("0:1:3"), found((outputs(3), SHED), now=10.5)).rows
    assert row.verdict is Verdict.MISSING
    assert row.sentences[0] == "it answered before, and has been silent for 10 s"


def test_two_devices_with_one_address_are_told():
    """Both names, and where each answers from."""
    liar = (outputs(3, short_name=b"twin"), "10.0.0.66")
    (row,) = compare(display("0:1:3"), found((outputs(3), SHED), liar)).rows
    assert row.verdict is Verdict.OTHERWISE
    assert "'shed' (from 10.0.0.9) and 'twin' (from 10.0.0.66)" in row.sentences[0]


def test_a_short_circuit_is_told_with_its_output():
    """GoodOutputA bit 2."""
    (row,) = compare(display("0:1:3", "0:1:4"), found((outputs(3, 4, good_output=b"\x80\x84"), SHED))).rows
    assert row.verdict is Verdict.AS_PLANNED
    assert "short circuit on output 2" in row.sentences[0]


def test_what_is_sent_to_everybody_wants_somebody_to_listen():
    """A controller whose address is the network's broadcast address."""
    plan = display("0:1:3", "0:1:4", address=BROADCAST)
    assert verdicts(compare(plan, found((outputs(3, 4), SHED)))) == ["as planned"]
    (row,) = compare(plan, found((outputs(3), SHED))).rows
    assert row.sentences == ("nobody listens to 20 (0:1:4), planned for port 2",)


E131 = """
name = "Lake"
[[controllers]]
name = "roof"
protocol = "e131"
address = "{}"
[[controllers.ports]]
number = 1
universe = 7
nodes = 50
"""


def test_e131_receivers_cannot_be_asked_and_that_is_no_fault():
    """ANSI E1.31-2018 has discovery of sources alone (clause 8)."""
    comparison = compare(parse(E131.format("multicast"), "test"), found())
    assert verdicts(comparison) == ["cannot be asked"]
    assert comparison.is_as_planned
    assert verdicts(compare(parse(E131.format(SHED), "test"), found((outputs(3), SHED)))) == ["is there"]


def test_a_source_that_announces_universes_of_the_display_is_told():
    """Only those that the display uses."""
    source = Source("player", "cid", "10.0.0.2", (6, 7, 8), is_whole=True)
    other = Source("other", "cid2", "10.0.0.3", (8,), is_whole=True)
    (told,) = compare(parse(E131.format("multicast"), "test"), found(sources=(source, other))).announced
    assert (told.name, told.universes) == ("player", (7,))
    assert "announces universe 7" in told.sentence


def test_the_run_that_asks_is_no_stranger():
    """By its CID (ANSI E1.31-2018 clause 5.6): another of the same name is one."""
    own = Source("Ropewalk", "cid", "10.0.0.2", (7,), is_whole=True)
    other = Source("Ropewalk", "cid2", "10.0.0.3", (7,), is_whole=True)
    plan = parse(E131.format("multicast"), "test")
    (told,) = compare(plan, found(sources=(own, other)), own_cid="cid").announced
    assert told.address == "10.0.0.3"


def test_numbers_are_told_as_runs():
    """And a list without end has one here."""
    assert runs_text((1, 2, 3, 7, 9, 10)) == "1-3, 7, 9-10"
    assert runs_text(tuple(range(1, 100, 2))).endswith("23, ...")


@pytest.mark.parametrize("columns", [20, 40, 79])
def test_no_row_is_wider_than_the_terminal(columns: int):
    """Whatever a device is called; nothing in it is no plain text."""
    evil = outputs(*range(4), short_name=b"\x1b[31m" + b"W" * 12, long_name=b"[red]\xe2\x80\xae" + b"x" * 50)
    seen = found((evil, SHED), (outputs(3, ip=bytes([10, 0, 0, 8])), "10.0.0.8"))
    lines = [*found_lines(seen), *comparison_lines(compare(display("0:1:3"), seen))]
    rows = [row for line in lines for row in wrapped(line, columns).split("\n")]
    assert all(len(row) <= columns and row.isprintable() for row in rows)
