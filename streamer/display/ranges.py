"""Displays without a file: universes named on the command line, and a file's display sent elsewhere."""

import re
from collections.abc import Iterator
from typing import TypedDict, Unpack

from pydantic import ValidationError

from streamer.display.addresses import canonical
from streamer.display.checks import check
from streamer.display.model import (
    COLOUR_ORDERS,
    SLOTS_PER_UNIVERSE,
    Addressing,
    Controller,
    Display,
    Port,
    Protocol,
    Segment,
)
from streamer.display.numbering import UNIVERSE_RANGE, universe_text
from streamer.display.places import KeyPath, Locate, Place, plain, shown
from streamer.display.wording import must_be
from streamer.errors import PlanError, Problem
from streamer.wire.port_address import parse_triple

UNIVERSES_PLACE = "-u"
UNIVERSES_LIMIT = 4_000
"""A gigabit link carries some 4,000 universes at 44 frames a second (704 octets each, IEEE 802.3)."""
TEXT_LIMIT = 40_000
"""Characters: enough for every number of the longest list, written one by one."""
EXAMPLE = {Protocol.E131: "1-4,7,1443", Protocol.ARTNET: "0-3,19 or 0:0:0-0:0:3,0:1:3"}

_NUMBER = re.compile(r"[0-9]{1,6}")


class Settings(TypedDict, total=False):
    """What every packet of a display without a file carries; see `Controller`."""

    addressing: Addressing
    slots: int
    priority: int
    sync_address: int
    preview: bool
    force_synchronization: bool
    start_code: int
    physical: int
    sequence: bool
    art_sync: bool


def parse_ranges(text: str, protocol: Protocol) -> tuple[int, ...]:
    """Read "1-4,7,1443" as universes, in the order written; for Art-Net also "0:1:3-0:1:6".

    A number that is named twice is refused: it is more likely a slip than a wish. Raises `PlanError`.
    """
    if len(text) > TEXT_LIMIT:
        raise PlanError([_range_problem("the list is too long", "Write ranges, as in 1-400")])
    numbers: dict[int, None] = {}
    problems: list[Problem] = []
    for part in text.split(","):
        try:
            for number in _numbers(part.strip(), protocol):
                _add(number, numbers, protocol)
        except PlanError as error:
            problems += error.problems
    if problems:
        raise PlanError(problems)
    return tuple(numbers)


def _numbers(part: str, protocol: Protocol) -> range:
    ends = [_number(end.strip(), part, protocol) for end in part.split("-")]
    if len(ends) > 2:  # noqa: PLR2004  a range has two ends
        raise PlanError([_range_problem(f"{shown(part)} has more than two ends", _example(protocol))])
    if ends[-1] < ends[0]:
        first, last = part.split("-")
        instead = f"Write it upwards: {plain(last.strip())}-{plain(first.strip())}"
        raise PlanError([_range_problem(f"{shown(part)} runs downwards", instead)])
    return range(ends[0], ends[-1] + 1)


def _number(text: str, part: str, protocol: Protocol) -> int:
    first, last = UNIVERSE_RANGE[protocol]
    try:
        if protocol is Protocol.ARTNET and ":" in text:
            return parse_triple(text)
        number = int(text) if _NUMBER.fullmatch(text) else -1
    except ValueError:
        number = -1
    if not first <= number <= last:
        kind = "a universe" if protocol is Protocol.E131 else "a Port-Address, 0:0:0 to 127:15:15 or"
        what = f"{shown(part)} is not {kind} from {first} to {last}"
        raise PlanError([_range_problem(what, _example(protocol))])
    return number


def _add(number: int, numbers: dict[int, None], protocol: Protocol) -> None:
    if number in numbers:
        what = f"{universe_text(protocol, number)} is named twice"
        raise PlanError([_range_problem(what, "Name each one once")])
    if len(numbers) == UNIVERSES_LIMIT:
        what = f"there are more than {UNIVERSES_LIMIT} universes"
        raise PlanError([_range_problem(what, f"Send them in several runs of up to {UNIVERSES_LIMIT}")])
    numbers[number] = None


def _example(protocol: Protocol) -> str:
    return f"Write, for example: -u {EXAMPLE[protocol]}"


def _range_problem(what: str, instead: str) -> Problem:
    return Problem(UNIVERSES_PLACE, what, instead)


def display_from_ranges(
    universes: tuple[int, ...],
    protocol: Protocol,
    addresses: tuple[str, ...],
    nodes_per_universe: int = 170,
    colour_order: str = "RGB",
    **settings: Unpack[Settings],
) -> Display:
    """Return a checked display: a controller for each address, a port for each universe.

    Raises `PlanError`.
    """
    addresses = tuple(map(canonical, addresses))
    _refuse_repeats(addresses)
    most = SLOTS_PER_UNIVERSE // len(colour_order) if colour_order in COLOUR_ORDERS else SLOTS_PER_UNIVERSE
    if not 1 <= nodes_per_universe <= most:
        what = f"{nodes_per_universe} {plain(colour_order)} nodes in a universe, but it holds 1 to {most}"
        raise PlanError([Problem("nodes per universe", what, f"Write, for example: {most}")])
    try:
        controllers = tuple(
            Controller(
                name=address,
                protocol=protocol,
                address=address,
                ports=tuple(_ports(address, universes, protocol, nodes_per_universe, colour_order)),
                **settings,
            )
            for address in addresses
        )
    except ValidationError as error:
        raise PlanError(_setting_problems(error)) from error
    display = Display(name="universes", controllers=controllers)
    return _checked(display, lambda path: Place(_setting_name(path)))


def _ports(
    address: str, universes: tuple[int, ...], protocol: Protocol, nodes: int, colour_order: str
) -> Iterator[Port]:
    for number, universe in enumerate(universes, start=1):
        yield Port(
            name=f"{address}/{number}",
            label=universe_text(protocol, universe),
            number=number,
            universe=universe,
            colour_order=colour_order,
            segments=(Segment(nodes=nodes),),
        )


def _setting_problems(error: ValidationError) -> list[Problem]:
    problems = []
    for details in error.errors(include_url=False):
        key = str(details["loc"][0])
        words, usual = must_be(Controller.model_fields[key]), shown(Controller.model_fields[key].default)
        problems.append(
            Problem(
                _setting_name(details["loc"]),
                f"{shown(details['input'])} must be {words}",
                f"Write, for example: {usual}",
            )
        )
    return problems


def _setting_name(path: KeyPath) -> str:
    names = [key for key in path if isinstance(key, str)]
    return names[-1].replace("_", " ") if names else UNIVERSES_PLACE


def readdress(display: Display, addresses: tuple[str, ...]) -> Display:
    """Return a checked display whose controllers all go to each of these addresses instead.

    With several addresses each controller is repeated, "jetty@192.168.7.20". Raises `PlanError`, also
    when controllers that had an address each now claim the same slots of one.
    """
    addresses = tuple(map(canonical, addresses))
    _refuse_repeats(addresses)
    single = len(addresses) == 1
    controllers = tuple(
        _moved(controller, address, controller.name if single else f"{controller.name}@{address}")
        for address in addresses
        for controller in display.controllers
    )
    moved = display.model_copy(update={"controllers": controllers})
    where = f"sent to {', '.join(map(plain, addresses))}"
    return _checked(moved, lambda path: Place(" ".join([where, *_names_on(moved, path)])))


def _moved(controller: Controller, address: str, name: str) -> Controller:
    ports = tuple(port.model_copy(update={"name": f"{name}/{_last(port.name)}"}) for port in controller.ports)
    fixtures = controller.fixtures
    if name != controller.name:
        suffix = name.removeprefix(controller.name)
        fixtures = tuple(
            fixture.model_copy(update={"name": f"{fixture.name}{suffix}"}) for fixture in fixtures
        )
    return controller.model_copy(
        update={"name": name, "address": address, "ports": ports, "fixtures": fixtures}
    )


def _refuse_repeats(addresses: tuple[str, ...]) -> None:
    repeated = sorted({address for address in addresses if addresses.count(address) > 1})
    if repeated:
        problems = [
            Problem("address", f"{plain(address)} is given twice", "Give each one once")
            for address in repeated
        ]
        raise PlanError(problems)


def _last(port_name: str) -> str:
    return port_name.rpartition("/")[2]


def _names_on(display: Display, path: KeyPath) -> Iterator[str]:
    if path[:1] == ("controllers",):
        yield plain(display.controllers[int(path[1])].name)


def _checked(display: Display, locate: Locate) -> Display:
    problems = check(display, locate)
    if problems:
        raise PlanError(problems)
    return display
