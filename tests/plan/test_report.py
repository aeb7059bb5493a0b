"""The shape of the plan as JSON: scripts rely on it, so a key that goes or is renamed fails here."""

import json
from typing import Any

import numpy as np
import pytest

from streamer.display.electrics import Supply
from streamer.display.sample import sample_display
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import Power, power_of
from streamer.plan.findings import Finding, Severity
from streamer.plan.report import plan_of
from streamer.power.plan import power_plan
from tests.plan.lake import controller, display, flood, port

ADDRESS = {"universe": int, "text": str, "slot": int, "channel": int}
EXTENT = {"first": ADDRESS, "last": ADDRESS, "universes": [int], "split_nodes": int}
LOWEST = {"volts": float, "node": int}
CARRIED = {
    "name": str,
    "supply": type(None),
    "volts": float,
    "rated_a": float,
    "limit_a": float,
    "full_a": float,
    "level_a": float,
    "margin_a": float,
}
TRAFFIC = {"packets_per_s": float, "bits_per_s": float}
SHAPE = {
    "works": bool,
    "name": str,
    "nodes": int,
    "flashes_per_s": int,
    "findings": [{"severity": str, "place": str, "what": str, "instead": str}],
    "assumptions": [str],
    "rate": {
        "limit_hz": float,
        "held_by": str,
        "reason": str,
        "asked_hz": float,
        "slowest_port": str,
        "slowest_port_hz": float,
    },
    "network": {
        "levels": TRAFFIC,
        "synchronization": TRAFFIC,
        "discovery": TRAFFIC,
        "total": TRAFFIC,
        "multicast": TRAFFIC,
        "groups": int,
    },
    "controllers": [
        {
            "name": str,
            "protocol": str,
            "address": str,
            "addressing": str,
            "slots": int,
            "traffic": TRAFFIC,
            "strings": [
                {
                    "name": str,
                    "label": str,
                    "number": int,
                    "colour": str,
                    "nodes": int,
                    "skip": int,
                    "reversed": bool,
                    "colour_order": str,
                    "line": ADDRESS,
                    "extent": EXTENT,
                    "time": {"chip": str, "bits": int, "frame_us": float, "limit_hz": float},
                    "current": {
                        "full_a": float,
                        "level_a": float,
                        "level_percent": float,
                        "now_a": float,
                        "volts_min": float,
                        "full_lowest": LOWEST,
                        "level_lowest": LOWEST,
                        "feeds": [CARRIED | {"supply": str, "now_a": type(None)}],
                        "inject": {
                            "after": [int],
                            "leads_m": [float],
                            "lead_wire": str,
                            "lowest_volts": float,
                            "is_enough": bool,
                        },
                        "assumptions": [str],
                    },
                }
            ],
            "fixtures": [
                {
                    "name": str,
                    "channels": [str],
                    "extent": EXTENT,
                    "time": {"slots": int, "packet_us": float, "limit_hz": float},
                }
            ],
        }
    ],
    "universes": [
        {
            "protocol": str,
            "address": str,
            "universe": int,
            "text": str,
            "port_address": type(None),
            "groups": {"ipv4": str, "ipv6": str},
            "is_multicast": bool,
            "controllers": [str],
            "members": [str],
            "slots_used": int,
            "slots_left": int,
            "next_slot": int,
        }
    ],
    "free": [{"protocol": str, "first": int, "last": int, "text": str}],
    "power": {
        "level_percent": float,
        "full_a": float,
        "level_a": float,
        "now_a": float,
        "now": str,
        "supplies": [CARRIED | {"supply": type(None), "now_a": float}],
    },
}


def shape_of(value: Any) -> Any:  # noqa: ANN401  whatever JSON holds
    """Return the types of a value, of a list those of its first entry."""
    if isinstance(value, dict):
        return {key: shape_of(each) for key, each in value.items()}
    return [shape_of(value[0])] if isinstance(value, list) else type(value)


def test_the_keys_and_their_types_stay():
    """A plan with something everywhere, through JSON and back; numbers with a fraction may be whole."""
    first = port(1, 1, nodes=80, chip="WS2811", supply="shed", fuse_a=5)
    lake = display(
        controller(first, port(2, 7, nodes=80, node_kind="5 V constant current"), fixtures=(flood(4),))
    )
    lake = lake.model_copy(update={"supplies": (Supply(name="shed", volts=5, amps=20),)})
    nodes = np.full((sum(each.nodes for each in lake.ports), 4), 77, np.uint8)
    power = power_of(lake, power_plan(lake, 30, nodes), "A frame.")
    made = plan_of(lake, Asked(40.0), Host((), 20), power)
    data = json.loads(json.dumps(made.as_dict()), parse_int=int)
    assert list(data) == list(SHAPE)
    assert widened(shape_of(data), SHAPE) == SHAPE


def widened(found: Any, wanted: Any) -> Any:  # noqa: ANN401  whatever a shape holds
    """Return a shape with whole numbers taken for fractions where fractions are wanted."""
    if isinstance(wanted, dict) and isinstance(found, dict):
        return {key: widened(each, wanted.get(key)) for key, each in found.items()}
    if isinstance(wanted, list) and isinstance(found, list):
        return [widened(found[0], wanted[0])]
    return float if (found, wanted) == (int, float) else found


def test_severities_and_protocols_are_words():
    """Those of the README."""
    assert json.dumps(list(Severity)) == '["fault", "warning"]'
    made = plan_of(sample_display(), Asked(40), Host()).as_dict()
    assert [each["protocol"] for each in made["controllers"]] == ["e131", "artnet"]
    assert {each["port_address"] for each in made["universes"]} == {None, "0:2:5", "0:2:6"}


def test_what_is_not_known_is_null():
    """A current that nobody has worked out, a chip that nobody has named."""
    (string,) = plan_of(display(controller(port(1, 1))), Asked(40), Host()).as_dict()["controllers"][0][
        "strings"
    ]
    assert string["current"] is None
    assert string["time"]["chip"] is None


@pytest.mark.parametrize("severity", Severity)
def test_works_is_false_only_for_a_fault(severity: Severity):
    """A warning is no reason not to hang it."""
    found = Finding(severity, "jetty/1", "it is so", "Do that.")
    made = plan_of(display(controller(port(1, 1))), Asked(40), Host(), Power(findings=(found,)))
    assert made.as_dict()["works"] is (severity is Severity.WARNING)


def test_the_colours_are_those_of_tint():
    """Seven in turn over the whole display (patterns/tint.py)."""
    made = plan_of(sample_display(), Asked(40), Host())
    colours = [string.colour for each in made.controllers for string in each.strings]
    assert colours == ["red", "yellow", "green", "cyan", "blue", "magenta", "white", "red"]
