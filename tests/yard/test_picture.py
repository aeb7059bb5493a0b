"""What the yard writes down once a second."""

import json

from streamer.display.model import Fixture, Role
from streamer.yard.faults import Break, NodeCount
from streamer.yard.picture import lines, picture
from tests.yard.bench import Bench, jetty, port


def lit_jetty() -> Bench:
    """Return a bench with an RGB and an RGBW string and a flood."""
    flood = Fixture(name="flood", universe=2, slot=10, channels=(Role.DIMMER,))
    ports = [port(1, 3, 1, label="Rail"), port(2, 2, 2, slot=1, colour_order="GRBW")]
    bench = Bench(jetty(ports, fixtures=(flood,)))
    bench.send(1, [255, 0, 0, 0, 255, 0, 0, 0, 255, 18, 52, 86])
    bench.send(2, [1, 2, 3, 4, 0, 0, 0, 0, 0, 99])
    return bench


def test_a_picture_says_what_every_light_shows():
    """The whole line, as another program reads it."""
    bench = lit_jetty()
    bench.set_faults(1, NodeCount(nodes=4), Break(after=4))
    bench.send(1, [255, 0, 0, 0, 255, 0, 0, 0, 255, 18, 52, 86])
    bench.send(9, [1])
    read = json.loads(json.dumps(picture(bench.yard, 12.3456, bench.now)))
    assert read == {
        "seconds": 12.346,
        "ports": [
            {
                "name": "jetty/1",
                "label": "Rail",
                "universe": 1,
                "slot": 1,
                "packets": 2,
                "lost": 1,
                "discarded": 0,
                "live": True,
                "faults": ["has 4 nodes", "breaks after node 4"],
                "nodes": ["#ff0000", "#00ff00", "#0000ff"],
                "beyond": ["#123456"],
            },
            {
                "name": "jetty/2",
                "label": "",
                "universe": 2,
                "slot": 1,
                "packets": 1,
                "lost": 0,
                "discarded": 0,
                "live": True,
                "faults": [],
                "nodes": ["#02010304", "#00000000"],
                "beyond": [],
            },
        ],
        "fixtures": [{"name": "flood", "universe": 2, "slot": 10, "channels": [99]}],
        "note": "Universe 9 arrives from 'boathouse' but no port listens to it",
    }


def test_lines_say_the_same_to_a_person():
    """One line a port, then the fixtures, then what is wrong."""
    bench = lit_jetty()
    bench.set_faults(1, NodeCount(nodes=4))
    bench.send(9, [1])
    assert list(lines(bench.yard, 3.0, bench.now)) == [
        "3 s",
        "  jetty/1 (Rail): live, 1 packet, 3 of 3 nodes lit, 1 beyond the plan; has 4 nodes",
        "  jetty/2: live, 1 packet, 1 of 2 nodes lit",
        "  flood: 99",
        "  Universe 9 arrives from 'boathouse' but no port listens to it",
    ]
