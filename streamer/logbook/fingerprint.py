"""What in the display file a proof rests on, for each string and fixture, and what has changed since."""

from collections.abc import Iterator

from pydantic import JsonValue

from streamer.display.model import Controller, Display, Fixture, Port
from streamer.display.numbering import NUMBER_KEY, PROTOCOL_NAME, universe_text
from streamer.logbook.records import Fingerprint, Sort, Subject

ABSENT = "not given"
LISTED = 8
"""More values than this are no help in a sentence."""


def fingerprints(display: Display) -> dict[Subject, Fingerprint]:
    """Return the fingerprint of every string and every fixture, in file order: strings first."""
    return dict([*_of_strings(display), *_of_fixtures(display)])


def labels(display: Display) -> dict[Subject, str]:
    """Return what the person calls each string and fixture; empty where the name says it all."""
    return {
        **{Subject(Sort.STRING, port.name): port.label for port in display.ports},
        **{Subject(Sort.FIXTURE, fixture.name): "" for _, fixture in _fixtures(display)},
    }


def changes(before: Fingerprint, now: Fingerprint) -> tuple[str, ...]:
    """Return which keys differ, in words: "slot was 1, is 4"."""
    keys = dict.fromkeys([*now, *before])
    return tuple(
        f"{key} was {_shown(before.get(key))}, is {_shown(now.get(key))}"
        for key in keys
        if before.get(key) != now.get(key)
    )


def _of_strings(display: Display) -> Iterator[tuple[Subject, Fingerprint]]:
    for controller in display.controllers:
        for port in controller.ports:
            yield Subject(Sort.STRING, port.name), _of_string(controller, port)


def _of_string(controller: Controller, port: Port) -> Fingerprint:
    return {
        **_of_controller(controller, port.universe),
        "addressing": controller.addressing.value,
        "slot": port.slot,
        "nodes": port.nodes,
        "segments": [segment.nodes for segment in port.segments],
        "colour_order": port.colour_order,
        "reversed": port.reversed,
        "skip": port.skip,
    }


def _of_fixtures(display: Display) -> Iterator[tuple[Subject, Fingerprint]]:
    for controller, fixture in _fixtures(display):
        yield (
            Subject(Sort.FIXTURE, fixture.name),
            {
                **_of_controller(controller, fixture.universe),
                "slot": fixture.slot,
                "channels": [role.value for role in fixture.channels],
            },
        )


def _fixtures(display: Display) -> Iterator[tuple[Controller, Fixture]]:
    for controller in display.controllers:
        for fixture in controller.fixtures:
            yield controller, fixture


def _of_controller(controller: Controller, universe: int) -> Fingerprint:
    number = universe_text(controller.protocol, universe).split(" ", 1)[1]
    return {
        "protocol": PROTOCOL_NAME[controller.protocol],
        "address": controller.address,
        "slots": controller.slots,
        NUMBER_KEY[controller.protocol]: number,
    }


def _shown(value: JsonValue) -> str:
    if value is None:
        return ABSENT
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(map(str, value[:LISTED]))}{', ...' if len(value) > LISTED else ''}]"
    return str(value)
