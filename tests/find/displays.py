"""Displays of many kinds, drawn at random: lengths, addressing, colour orders, ends, neighbours."""

import random

from streamer.display.checks import check
from streamer.display.model import (
    COLOUR_ORDERS,
    Addressing,
    Controller,
    Display,
    Port,
    Protocol,
    Segment,
)
from streamer.display.places import Place

LENGTHS = (12, 30, 50, 72, 100)
FIRST_UNIVERSE = 20


def drawn_display(chance: random.Random) -> Display:
    """Return a display of one or two controllers with two to four strings each."""
    while True:
        count = chance.randint(1, 2)
        display = Display(
            name="boathouse", controllers=tuple(_controller(chance, number) for number in range(count))
        )
        if not check(display, lambda path: Place(str(path))):
            return display


def _controller(chance: random.Random, number: int) -> Controller:
    channel, ports = chance.randint(0, 300), []
    protocol = chance.choice(list(Protocol))
    for port in range(1, chance.randint(2, 4) + 1):
        order = chance.choice(sorted(COLOUR_ORDERS) if chance.random() < 1 / 4 else ["RGB", "GRB", "BRG"])
        nodes, skip = chance.choice(LENGTHS), chance.choice([0, 0, 0, 2])
        ports.append(
            Port(
                name=f"c{number}/{port}",
                number=port,
                universe=FIRST_UNIVERSE + 100 * number + channel // 512,
                slot=channel % 512 + 1,
                colour_order=order,
                reversed=chance.random() < 1 / 4,
                skip=skip,
                segments=_segments(chance, nodes),
            )
        )
        channel += (nodes + skip) * len(order) + chance.choice([8, 40, 512])
    return Controller(
        name=f"c{number}",
        protocol=protocol,
        address="127.0.0.1",
        addressing=chance.choice(list(Addressing)),
        ports=tuple(ports),
    )


def _segments(chance: random.Random, nodes: int) -> tuple[Segment, ...]:
    pieces = chance.randint(1, 3)
    first = nodes // pieces
    lengths = [first] * (pieces - 1) + [nodes - first * (pieces - 1)]
    return tuple(Segment(nodes=length, spacing_mm=75) for length in lengths)
