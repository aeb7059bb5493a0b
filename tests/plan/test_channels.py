"""The channel rows: every node and channel once, and each where the patch puts it."""

from hypothesis import given, settings

from streamer.display.model import Addressing, Controller, Display, Protocol
from streamer.display.patch import COMPONENT_OF, compile_patch
from streamer.plan.channels import ChannelRow, channel_rows
from tests.plan.lake import controller, display, flood, port
from tests.yard.test_agreement import displays


def slots_of(row: ChannelRow) -> list[tuple[int, int]]:
    """Return the universe and slot of each slot of a row, as the row's own description says they follow."""
    slots = range(row.slot - 1, row.slot - 1 + len(row.colour_order))
    return [(row.universe + slot // 512, slot % 512 + 1) for slot in slots]


@settings(max_examples=60, deadline=None)
@given(displays())
def test_rows_and_slots_are_a_bijection_and_those_of_the_patch(plan: Display):
    """No slot of a stream is in two rows, and the rows' slots are exactly those that the engine fills."""
    keys: dict[str, Controller] = {}
    for each in plan.controllers:
        keys |= dict.fromkeys([p.name for p in each.ports] + [f.name for f in each.fixtures], each)
    fixtures = {fixture.name for each in plan.controllers for fixture in each.fixtures}
    taken: set[tuple[Protocol, str, int, int]] = set()
    count = 0
    for row in channel_rows(plan):
        owner = keys[row.string]
        slots = slots_of(row)[:1] if row.string in fixtures else slots_of(row)
        count += len(slots)
        taken |= {(owner.protocol, owner.address, universe, slot) for universe, slot in slots}
    patch = compile_patch(plan)
    streams = [(each.key.protocol, each.key.address, each.key.universe) for each in patch.streams]
    filled = [
        *zip(patch.node_streams.tolist(), patch.node_slots.tolist(), strict=True),
        *zip(patch.channel_streams.tolist(), patch.channel_slots.tolist(), strict=True),
    ]
    assert taken == {(*streams[row], slot + 1) for row, slot in filled}
    assert count == len(taken) == len(filled)


def test_a_row_is_what_the_patch_says_of_that_node():
    """Reversed: the first node that hangs is the last on the line. Red of a GRB node is its second slot."""
    plan = display(controller(port(1, 2, nodes=3, reversed=True, colour_order="GRB")))
    rows = list(channel_rows(plan))
    assert [(row.node, row.slot, row.channel) for row in rows] == [(1, 7, 519), (2, 4, 516), (3, 1, 513)]
    patch = compile_patch(plan)
    red_of_first = patch.node_components.tolist().index(0 * 4 + COMPONENT_OF["R"])
    assert patch.node_slots[red_of_first] + 1 == rows[0].slot + 1


def test_fixtures_have_a_row_a_channel_and_indexes_go_on():
    """Named by the fixture; the last column says what the channel does."""
    plan = display(controller(port(1, 1, nodes=2), fixtures=(flood(3, 5),)))
    rows = list(channel_rows(plan))
    assert [row.index for row in rows] == [1, 2, 3, 4, 5, 6]
    assert [(row.string, row.node, row.slot, row.colour_order) for row in rows[2:]] == [
        ("Flood, reeds", 1, 5, "dimmer"),
        ("Flood, reeds", 2, 6, "red"),
        ("Flood, reeds", 3, 7, "green"),
        ("Flood, reeds", 4, 8, "blue"),
    ]


def test_a_split_node_is_told_by_its_first_slot():
    """Packed: node 171 begins at (1, 511); the absolute channel counts on over the border."""
    plan = display(controller(port(1, 1, nodes=172), addressing=Addressing.PACKED))
    rows = list(channel_rows(plan))
    assert (rows[170].universe, rows[170].slot, rows[170].channel) == (1, 511, 511)
    assert (rows[171].universe, rows[171].slot, rows[171].channel) == (2, 2, 514)


def test_an_art_net_row_has_both_forms():
    """37 is 0:2:5; E1.31 has no such column."""
    lake = controller(port(1, 37, nodes=1), protocol=Protocol.ARTNET, address="127.0.0.1")
    assert next(channel_rows(display(lake))).port_address == "0:2:5"
    assert next(channel_rows(display(controller(port(1, 37, nodes=1))))).port_address == ""
