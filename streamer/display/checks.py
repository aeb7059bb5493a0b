"""What a display as a whole must keep to before it is patched. Single values are the model's business."""

from collections import Counter
from collections.abc import Iterator, Sequence

from streamer.display.addresses import address_fault
from streamer.display.model import (
    COLOUR_ORDERS,
    NODES_LIMIT,
    SLOTS_PER_UNIVERSE,
    Addressing,
    Controller,
    Display,
    Port,
    Protocol,
)
from streamer.display.numbering import NUMBER_KEY, PROTOCOL_NAME, UNIVERSE_RANGE, universe_text
from streamer.display.overlaps import Geometry, geometry_of, overlaps
from streamer.display.places import KeyPath, Locate, plain, shown
from streamer.display.power_checks import check_power
from streamer.display.wording import problem_at
from streamer.errors import Problem

E131_ONLY = ("priority", "sync_address", "preview", "force_synchronization", "start_code")
"""ANSI E1.31 fields that ArtDmx does not carry."""
ARTNET_ONLY = ("physical", "sequence", "art_sync")
"""What Art-Net 4 has and E1.31 has not, or does not let one turn off."""
PACKET_SETTINGS = ("slots", *E131_ONLY, *ARTNET_ONLY)
"""One stream has one of each."""


def check(
    display: Display, locate: Locate, *, with_power: bool = True, may_be_empty: bool = False
) -> list[Problem]:
    """Return everything wrong with a display; `locate` gives the place of a key path in it.

    Without `with_power`, what feeds it is not looked at: its supplies are known to be wrong already. It
    `may_be_empty` where what it had is known to be wrong.
    """
    too_many = list(_too_many_nodes(display, locate))
    if too_many:
        return too_many
    geometry = geometry_of(display)
    return [
        *(() if may_be_empty else _empty(display, locate)),
        *_names(display, locate),
        *_controllers(display, locate),
        *_ports(display, locate),
        *_fixtures(display, locate),
        *_slots_sent(display, geometry, locate),
        *_shared_streams(display, geometry, locate),
        *overlaps(display, geometry, locate),
        *(check_power(display, locate) if with_power else ()),
    ]


def _too_many_nodes(display: Display, locate: Locate) -> Iterator[Problem]:
    nodes = sum(port.nodes for port in display.ports)
    if nodes > NODES_LIMIT:
        what = f"the display has {nodes} nodes, but at most {NODES_LIMIT} can be shown at once"
        yield problem_at(locate, (), what, "Split it into several displays, one for each controller")


def _empty(display: Display, locate: Locate) -> Iterator[Problem]:
    if not any(controller.ports or controller.fixtures for controller in display.controllers):
        instead = "Add [[controllers]] with [[controllers.ports]]; 'ropewalk new FILE' makes an example"
        yield problem_at(locate, (), "the display has no port and no fixture", instead)


def _names(display: Display, locate: Locate) -> Iterator[Problem]:
    controllers = [(("controllers", i), controller.name) for i, controller in enumerate(display.controllers)]
    yield from _repeated(controllers, "name", "controllers", locate)
    fixtures = [
        (("controllers", i, "fixtures", j), fixture.name)
        for i, controller in enumerate(display.controllers)
        for j, fixture in enumerate(controller.fixtures)
    ]
    yield from _repeated(fixtures, "name", "fixtures", locate)
    for i, controller in enumerate(display.controllers):
        numbers = [(("controllers", i, "ports", j), port.number) for j, port in enumerate(controller.ports)]
        yield from _repeated(numbers, "number", f"ports of {plain(controller.name)}", locate)


def _repeated(
    items: Sequence[tuple[KeyPath, str | int]], key: str, things: str, locate: Locate
) -> Iterator[Problem]:
    first: dict[str | int, KeyPath] = {}
    taken = {name for _, name in items}
    for path, name in items:
        known = name.casefold() if isinstance(name, str) else name
        if known in first:
            line = locate((*first[known], key)).line
            other = f" (the other is on line {line})" if line else ""
            what = f"two {things} have the {key} {shown(name)}{other}"
            yield problem_at(locate, (*path, key), what, f"Write, for example: {key} = {_free(name, taken)}")
        first.setdefault(known, path)


def _free(name: str | int, taken: set[str | int]) -> str:
    if isinstance(name, int):
        return str(max(number for number in taken if isinstance(number, int)) + 1)
    return f'"{name} {next(n for n in range(2, len(taken) + 3) if f"{name} {n}" not in taken)}"'


def _controllers(display: Display, locate: Locate) -> Iterator[Problem]:
    for index, controller in enumerate(display.controllers):
        path: KeyPath = ("controllers", index)
        fault = address_fault(controller.address, controller.protocol)
        if fault:
            instead = f'{fault.instead}: address = "{fault.address}"'
            yield problem_at(locate, (*path, "address"), fault.what, instead)
        strangers = E131_ONLY if controller.protocol is Protocol.ARTNET else ARTNET_ONLY
        for key in strangers:
            if getattr(controller, key) != Controller.model_fields[key].default:
                what = f"'{key}' is not for {PROTOCOL_NAME[controller.protocol]}"
                yield problem_at(
                    locate, (*path, key), what, f"Take '{key}' out; this controller cannot obey it"
                )
        if controller.protocol is Protocol.ARTNET and controller.slots % 2:
            what = f"slots is {controller.slots}, but an Art-Net packet carries an even number of slots"
            yield problem_at(locate, (*path, "slots"), what, f"Write slots = {controller.slots + 1}")


def _ports(display: Display, locate: Locate) -> Iterator[Problem]:
    for i, controller in enumerate(display.controllers):
        for j, port in enumerate(controller.ports):
            path: KeyPath = ("controllers", i, "ports", j)
            yield from _start(controller.protocol, port.universe, path, locate)
            if port.colour_order not in COLOUR_ORDERS:
                what = f"colour_order is {shown(port.colour_order)}, which is no order of RGB or RGBW"
                better = port.colour_order.upper()
                instead = f'Write colour_order = "{better if better in COLOUR_ORDERS else "GRB"}"'
                yield problem_at(locate, (*path, "colour_order"), what, instead)
            else:
                yield from _first_slot(controller, port, path, locate)


def _first_slot(controller: Controller, port: Port, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    last_start = SLOTS_PER_UNIVERSE - len(port.colour_order) + 1
    if controller.addressing is Addressing.ALIGNED and port.slot > last_start:
        what = f"no whole {port.colour_order} node fits from slot {port.slot} to the end of the universe"
        key = NUMBER_KEY[controller.protocol]
        instead = f"Write {key} = {port.universe + 1} with slot = 1, or a slot up to {last_start}"
        yield problem_at(locate, (*path, "slot"), what, instead)


def _start(protocol: Protocol, number: int, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    first, last = UNIVERSE_RANGE[protocol]
    if not first <= number <= last:
        key = NUMBER_KEY[protocol]
        what = f"{key} is {number}, but must be from {first} to {last}"
        yield problem_at(
            locate, (*path, key), what, f"Write, for example: {key} = {min(max(number, first), last)}"
        )


def _fixtures(display: Display, locate: Locate) -> Iterator[Problem]:
    for i, controller in enumerate(display.controllers):
        for j, fixture in enumerate(controller.fixtures):
            path: KeyPath = ("controllers", i, "fixtures", j)
            yield from _start(controller.protocol, fixture.universe, path, locate)
            last_slot = fixture.slot - 1 + len(fixture.channels)
            if last_slot > SLOTS_PER_UNIVERSE:
                what = f"the fixture ends at slot {last_slot}, past the universe's last, {SLOTS_PER_UNIVERSE}"
                latest = SLOTS_PER_UNIVERSE - len(fixture.channels) + 1
                yield problem_at(
                    locate, (*path, "slot"), what, f"Write a slot up to {latest}: slot = {latest}"
                )


def _slots_sent(display: Display, geometry: Geometry, locate: Locate) -> Iterator[Problem]:
    """Find strings that run past the last universe, and controllers whose packets are too short."""
    reach = Counter[int]()
    for row, party in enumerate(geometry.parties):
        mine = slice(*geometry.rows[row])
        controller = display.controllers[party.controller]
        reach[party.controller] = max(reach[party.controller], int(geometry.last[mine].max()) + 1)
        last, limit = int(geometry.universe[mine].max()), UNIVERSE_RANGE[controller.protocol][1]
        if last > limit and party.is_string:
            what = (
                f"the string runs on to {universe_text(controller.protocol, last)}, "
                f"but the last is {universe_text(controller.protocol, limit)}"
            )
            key = NUMBER_KEY[controller.protocol]
            instead = (
                f"Start it earlier, for example: {key} = {int(geometry.universe[mine].min()) - last + limit}"
            )
            yield problem_at(locate, (*party.path, key), what, instead)
    for index, slot in reach.items():
        slots = display.controllers[index].slots
        if slots < min(slot, SLOTS_PER_UNIVERSE):
            what = f"slots is {slots}, but what is patched here reaches slot {slot}"
            instead = f"Write slots = {slot + slot % 2}, or take 'slots' out: it is 512 then"
            yield problem_at(locate, ("controllers", index, "slots"), what, instead)


def _shared_streams(display: Display, geometry: Geometry, locate: Locate) -> Iterator[Problem]:
    """Find controllers that send the same universe to the same address with different settings."""
    first: dict[tuple[int, int], int] = {}
    told: set[tuple[int, int]] = set()
    for row, party in enumerate(geometry.parties):
        for at in range(*geometry.rows[row]):
            owner = first.setdefault(
                (int(geometry.destination[at]), int(geometry.universe[at])), party.controller
            )
            pair = (owner, party.controller)
            if owner != party.controller and pair not in told:
                told.add(pair)
                yield from _differences(display, pair, int(geometry.universe[at]), locate)


def _differences(display: Display, pair: tuple[int, int], universe: int, locate: Locate) -> Iterator[Problem]:
    one, other = (display.controllers[index] for index in pair)
    for key in PACKET_SETTINGS:
        value = getattr(one, key)
        if value != getattr(other, key):
            what = (
                f"{plain(one.name)} and {plain(other.name)} share {universe_text(one.protocol, universe)} "
                f"at {one.address}, but differ in '{key}' ({shown(value)} and {shown(getattr(other, key))})"
            )
            instead = f"Write the same in both, for example: {key} = {shown(value)}"
            yield problem_at(locate, ("controllers", pair[1], key), what, instead)
