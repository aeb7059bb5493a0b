"""What is played on one lay-out of the universes, read on another: a node takes its own slots."""

import numpy as np
import pytest

from patterns.plain import COMPONENTS, Frame
from streamer.display.as_hung import FramesAsHung
from streamer.display.model import Controller, Display, Fixture, Port, Protocol, Role, Segment


def display(*ports: Port, fixtures: tuple[Fixture, ...] = (), address: str = "127.0.0.1") -> Display:
    """Return a display of one controller."""
    jetty = Controller(name="jetty", protocol=Protocol.E131, address=address, ports=ports, fixtures=fixtures)
    return Display(name="jetty", controllers=(jetty,))


def port(number: int, universe: int, nodes: int, order: str = "RGB", **more: object) -> Port:
    """Return a port of one segment."""
    return Port.model_validate(
        {
            "name": f"jetty/{number}", "number": number, "universe": universe, "colour_order": order,
            "segments": (Segment(nodes=nodes),), **more,
        }
    )  # fmt: skip


FLAT = display(port(1, 1, 128, "RGBW"), port(2, 2, 128, "RGBW"))
"""Every slot of universes 1 and 2 in its order: 128 nodes of four slots are 512."""


def played(slots: dict[tuple[int, int], int]) -> Frame:
    """Return the flat frame with these levels by universe and slot, both from 1."""
    levels = np.zeros((2, 512), np.uint8)
    for (universe, slot), level in slots.items():
        levels[universe - 1, slot - 1] = level
    return Frame(levels.reshape(-1, COMPONENTS), np.zeros(0, np.uint8))


def seen(hangs: Display, slots: dict[tuple[int, int], int]) -> list[list[int]]:
    """Return the components of every node that hangs."""
    rows: list[list[int]] = FramesAsHung(FLAT, hangs).frame(played(slots)).nodes.tolist()
    return rows


def test_slots_arrive_on_the_nodes_that_take_them():
    """Node 2 of an RGB string from slot 1 on takes slots 4, 5 and 6 (common practice, no source)."""
    assert seen(display(port(1, 1, 2)), {(1, 4): 10, (1, 5): 20, (1, 6): 30}) == [[0] * 4, [10, 20, 30, 0]]


@pytest.mark.parametrize(
    ("more", "nodes"),
    [
        ({"order": "GRB"}, [[20, 10, 30, 0], [50, 40, 60, 0]]),
        ({"reversed": True}, [[40, 50, 60, 0], [10, 20, 30, 0]]),
        ({"skip": 1}, [[40, 50, 60, 0], [0, 0, 0, 0]]),
        ({"slot": 4}, [[40, 50, 60, 0], [0, 0, 0, 0]]),
    ],
)
def test_order_direction_skipped_nodes_and_start_slot_are_those_of_the_string(
    more: dict[str, object], nodes: list[list[int]]
):
    """Six slots sent, as each of two nodes takes them."""
    slots = {(1, slot): slot * 10 for slot in range(1, 7)}
    assert seen(display(port(1, 1, 2, **more)), slots) == nodes  # type: ignore[arg-type]


def test_what_is_not_played_is_dark():
    """Another universe, and the same universe to another address, are other streams."""
    slots = {(1, 1): 10, (2, 1): 20}
    assert seen(display(port(1, 3, 1)), slots) == [[0] * 4]
    assert seen(display(port(1, 1, 1), address="127.0.0.2"), slots) == [[0] * 4]


def test_fixtures_are_seen_too():
    """A dimmer at slot 9 of universe 2."""
    flood = Fixture(name="flood", universe=2, slot=9, channels=(Role.DIMMER, Role.RED))
    frame = FramesAsHung(FLAT, display(port(1, 1, 1), fixtures=(flood,))).frame(played({(2, 9): 70}))
    assert frame.channels.tolist() == [70, 0]
