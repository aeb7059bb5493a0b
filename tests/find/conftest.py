"""Displays and searches for the tests of the finder."""

from functools import cache
from typing import Any

import pytest

from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.display.sample import sample_display
from streamer.find.answers import EYES
from streamer.find.finding import Bench
from streamer.find.terms import Terms


def one_string(nodes: int, *segments: int, **others: Any) -> Display:
    """Return a display of one string on one port, in these segments, 100 mm from node to node."""
    pieces = tuple(Segment(nodes=each, spacing_mm=100) for each in segments or [nodes])
    port = Port(name="jetty/1", number=1, universe=1, segments=pieces, **others)
    controller = Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", ports=(port,))
    return Display(name="jetty", controllers=(controller,))


@pytest.fixture(name="sample", scope="session")
def _sample() -> Display:
    """Return the display of the demo."""
    return sample_display()


@cache
def bench_of(display: Display, port: str, eyes: str = "six") -> Bench:
    """Return a bench that tests share: it remembers looks, and no search."""
    return Bench(display, port, Terms(eyes=EYES[eyes]))
