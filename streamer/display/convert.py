"""Turns valid tables of a display file into the model, and refuses what no key shows alone."""

from streamer.display.convert_power import power_of_port
from streamer.display.model import Controller, Fixture, Port, Protocol
from streamer.display.numbering import NUMBER_KEY, PROTOCOL_NAME, UNIVERSE_RANGE
from streamer.display.places import KeyPath, Locate
from streamer.display.schema import FileController, FileFixture, FilePort
from streamer.display.segments import point_from, problems_of_segments, segments_from
from streamer.display.wording import problem_at
from streamer.errors import Problem
from streamer.wire.port_address import text


def controller_from(
    head: FileController, ports: tuple[Port, ...], fixtures: tuple[Fixture, ...]
) -> Controller:
    """Return the controller with its ports and fixtures."""
    settings = head.model_dump(exclude={"ports", "fixtures"})
    return Controller(**settings, ports=ports, fixtures=fixtures)


def port_from(head: FileController, port: FilePort) -> Port:
    """Return the port; `problems_of_port` has found nothing."""
    return Port(
        name=f"{head.name}/{port.number}",
        label=port.label,
        number=port.number,
        universe=_number_of(head, port),
        slot=port.slot,
        colour_order=port.colour_order,
        reversed=port.reversed,
        skip=port.skip,
        chip=port.chip or None,
        segments=segments_from(port),
        **power_of_port(port),
    )


def fixture_from(head: FileController, fixture: FileFixture) -> Fixture:
    """Return the fixture; `problems_of_fixture` has found nothing."""
    return Fixture(
        name=fixture.name,
        universe=_number_of(head, fixture),
        slot=fixture.slot,
        channels=tuple(fixture.channels),
        position=point_from(fixture.position),
    )


def problems_of_port(head: FileController, port: FilePort, path: KeyPath, locate: Locate) -> list[Problem]:
    """Return what is wrong with a port whose keys are valid one by one."""
    problems = _problems_of_number(head, port, path, locate)
    given = port.model_fields_set & {"nodes", "segments"}
    if not given:
        instead = "Add nodes = 72, or segments = [ { nodes = 36 }, { nodes = 36 } ]"
        problems.append(problem_at(locate, path, "the port says neither 'nodes' nor 'segments'", instead))
    if len(given) > 1:
        what = "the port says both 'nodes' and 'segments'"
        problems.append(
            problem_at(locate, (*path, "nodes"), what, "Take 'nodes' out; the segments have their own")
        )
    problems += problems_of_segments(port, path, locate)
    return problems


def problems_of_fixture(
    head: FileController, fixture: FileFixture, path: KeyPath, locate: Locate
) -> list[Problem]:
    """Return what is wrong with a fixture whose keys are valid one by one."""
    return _problems_of_number(head, fixture, path, locate)


def _problems_of_number(
    head: FileController, item: FilePort | FileFixture, path: KeyPath, locate: Locate
) -> list[Problem]:
    other = Protocol.ARTNET if head.protocol is Protocol.E131 else Protocol.E131
    right, wrong = NUMBER_KEY[head.protocol], NUMBER_KEY[other]
    name = PROTOCOL_NAME[head.protocol]
    if wrong in item.model_fields_set:
        what = f"'{wrong}' is for {PROTOCOL_NAME[other]}, but this controller speaks {name}"
        number = item.universe if other is Protocol.E131 else item.port_address
        return [problem_at(locate, (*path, wrong), what, _both_numberings(head.protocol, number))]
    if right not in item.model_fields_set:
        example = (
            "universe = 1"
            if head.protocol is Protocol.E131
            else 'port_address = 19 or port_address = "0:1:3"'
        )
        return [problem_at(locate, path, f"the key '{right}' is missing", f"Add, for example: {example}")]
    return []


def _both_numberings(protocol: Protocol, number: int) -> str:
    first, last = UNIVERSE_RANGE[protocol]
    if protocol is Protocol.E131:
        low = min(max(number, first), last - 1)
        choice = f"universe = {low} or universe = {low + 1}"
    else:
        low = min(max(number - 1, first), last - 1)
        choice = f"port_address = {text(low)} or port_address = {text(low + 1)}"
    return (
        f"Write {choice}, as the controller's own page has it: E1.31 counts universes from 1, Art-Net counts "
        "Port-Addresses from 0 and writes them Net:Sub-Net:Universe; makers differ in how they match them"
    )


def _number_of(head: FileController, item: FilePort | FileFixture) -> int:
    return item.universe if head.protocol is Protocol.E131 else item.port_address
