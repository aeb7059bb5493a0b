"""A search lights slots, not strings, so its level is one at which nothing can be overloaded.

NEC 210.20(A), 215.3: 80 % of a rating for loads of hours. What WS2811-class nodes draw: 18.5 mA a colour
(datasheet, application page), 1 mA idle (common practice, no source).
"""

import math

import pytest

from streamer.display.electrics import NodeKind, Supply
from streamer.display.model import Controller, Display, Port, Protocol, Segment
from streamer.find.finding import Bench
from streamer.find.safe_level import safe_level_percent

NODES, COLOUR_A, IDLE_A = 50, 0.0185, 0.001
KIND = NodeKind(name="made", volts=5, volts_min=4.5, full_ma=(18.5,) * 3, idle_ma=1.0)


def lake(fuse_a: float | None = None, supply_a: float | None = None) -> Display:
    """Return two strings of 50 nodes, each behind a fuse, both on one supply, where these are given."""
    ports = tuple(
        Port(
            name=f"jetty/{number}",
            number=number,
            universe=number,
            segments=(Segment(nodes=NODES),),
            node_kind="made",
            fuse_a=fuse_a,
            supply="shed" if supply_a else None,
        )
        for number in (1, 2)
    )
    return Display(
        name="lake",
        controllers=(Controller(name="jetty", protocol=Protocol.E131, address="127.0.0.1", ports=ports),),
        supplies=(Supply(name="shed", volts=5, amps=supply_a),) if supply_a else (),
        node_kinds=(KIND,),
    )


def full_white_a(level_percent: float) -> float:
    """Return what one string draws in full white at a level, its octets rounded down."""
    part = math.floor(255 * level_percent / 100) / 255
    return NODES * (IDLE_A + 3 * COLOUR_A * part)


@pytest.mark.parametrize("fuse_a", [0.5, 1.0, 2.0, 3.0])
def test_full_white_keeps_under_every_fuse(fuse_a: float):
    """And two octets more would not."""
    level = safe_level_percent(lake(fuse_a=fuse_a))
    assert full_white_a(level) <= 0.8 * fuse_a < full_white_a(level + 200 / 255)


@pytest.mark.parametrize("supply_a", [0.5, 2.0, 5.0])
def test_full_white_everywhere_keeps_under_every_supply(supply_a: float):
    """Two strings on one."""
    level = safe_level_percent(lake(supply_a=supply_a))
    assert 2 * full_white_a(level) <= 0.8 * supply_a < 2 * full_white_a(level + 200 / 255)


def test_where_nothing_limits_the_level_is_free():
    """No fuse and no supply described, or ones that carry full white: 2.825 A under 80 % of 4 A."""
    assert safe_level_percent(lake()) == 100
    assert safe_level_percent(lake(fuse_a=4.0)) == 100


def test_the_display_of_a_search_keeps_the_flash_limit():
    """It is another display than the file's, of universes instead of strings."""
    calm = lake().model_copy(update={"flashes_per_s": 1})
    assert Bench(calm, "jetty/1").canvas.flashes_per_s == 1
