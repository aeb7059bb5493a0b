"""A display file to start from, made of what a scan found."""

from collections.abc import Iterator, Sequence

import tomlkit
from tomlkit.items import AoT, Table

from streamer.display.addresses import address_fault
from streamer.display.file import parse
from streamer.display.keys import NAME_LIMIT
from streamer.display.model import MULTICAST, Protocol
from streamer.errors import PlanError, Problem
from streamer.scan.devices import Device
from streamer.scan.found import Found
from streamer.wire.port_address import triple

NODES = 50
NODES_WORDS = "how many hang there, no device knows: ropewalk count finds it"
PORTS_MAX = 500
"""More would make a file that nobody edits."""
HEAD = (
    "Made from what answered on the network. Every port is there as its device says it; what hangs on it,",
    "no device knows: write the nodes, the colour order and what you call each string, and take out what",
    "is not yours. Then: ropewalk check, and ropewalk plan.",
)
ANNOUNCED = "The universes that E1.31 sources announce; which receivers listen to them, no receiver says."


def offer(found: Found) -> str:
    """Return the text of a display file that passes its checks. PlanError when nothing was found."""
    document = tomlkit.document()
    for line in HEAD:
        document.add(tomlkit.comment(line))
    document["name"] = "Found"
    controllers = tomlkit.aot()
    for table in _controllers(found):
        controllers.append(table)
    if not len(controllers):
        what = "no device with an output answers, and no source announces a universe"
        raise PlanError([Problem("scan", what, "Start from ropewalk new FILE instead")])
    document["controllers"] = controllers
    text = tomlkit.dumps(document)
    parse(text, "the display file made from what was found")
    return text


def _controllers(found: Found) -> Iterator[Table]:
    room, names, taken = PORTS_MAX, set[str](), set[tuple[str, int]]()
    for device in found.devices:
        addresses = [
            port.port_address for port in device.outputs if (device.address, port.port_address) not in taken
        ]
        numbers = {port.port_address: port.number for port in reversed(device.outputs)}
        addresses = list(dict.fromkeys(addresses))[:room]
        if addresses and not address_fault(device.address, Protocol.ARTNET):
            room -= len(addresses)
            taken.update((device.address, each) for each in addresses)
            table = _controller(_name(device, names), Protocol.ARTNET, device.address)
            table["ports"] = _ports([(numbers[each], "port_address", triple(each)) for each in addresses])
            yield table
    announced = sorted({universe for source in found.sources for universe in source.universes})[:room]
    if announced:
        table = _controller(_free("announced", names), Protocol.E131, MULTICAST)
        table.comment(ANNOUNCED)
        table["ports"] = _ports(
            [(number, "universe", each) for number, each in enumerate(announced, start=1)]
        )
        yield table


def _controller(name: str, protocol: Protocol, address: str) -> Table:
    table = tomlkit.table()
    table.update({"name": name, "protocol": str(protocol), "address": address})
    return table


def _ports(ports: Sequence[tuple[int, str, str | int]]) -> AoT:
    tables = tomlkit.aot()
    for number, key, universe in ports:
        table = tomlkit.table()
        table.update({"number": number, key: universe, "nodes": NODES})
        table["nodes"].comment(NODES_WORDS)
        tables.append(table)
    return tables


def _name(device: Device, names: set[str]) -> str:
    """Return what a device is called, as the name of a controller may be."""
    plain = "".join(each if each.isprintable() and each != "/" else " " for each in device.name)
    return _free(" ".join(plain.split()) or device.address, names)


def _free(name: str, names: set[str]) -> str:
    """Return the name with a number behind it where it is taken, and remember it."""
    number, free = 1, name[:NAME_LIMIT].strip()
    while free in names:
        number += 1
        ending = f" {number}"
        free = name[: NAME_LIMIT - len(ending)].strip() + ending
    names.add(free)
    return free
