"""What is planned is what is sent: universes, packets and slots, captured on loopback."""

import select
import time
from collections import Counter
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.display.model import Display, Protocol
from streamer.display.sample import sample_display
from streamer.net.interfaces import find_interface
from streamer.net.receiver import UdpReceiver
from streamer.plan.addresses import universes_of
from streamer.plan.asked import Asked, Host
from streamer.plan.channels import channel_rows
from streamer.plan.report import plan_of
from streamer.plan.traffic import level_octets, wire_octets
from streamer.wire import artnet, e131
from tests.cli.conftest import begin, run

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).parents[2] / "streamer/display/sample.toml"
SECONDS = "0.8"
RATE_HZ = 20.0
LIMIT_S = 20
GROUPS = """name = "lake"
[[controllers]]
name = "jetty"
protocol = "e131"
address = "multicast"
sync_address = 7999
  [[controllers.ports]]
  number = 1
  universe = 300
  nodes = 400
  [[controllers.ports]]
  number = 2
  universe = 63999
  slot = 100
  nodes = 3
"""


def capture(receivers: list[UdpReceiver], words: list[str | Path]) -> list[list[bytes]]:
    """Send, and return what each receiver heard until the sender had gone."""
    heard: list[list[bytes]] = [[] for _ in receivers]
    sender = begin("send", *map(str, words), "--rate", str(RATE_HZ), "--seconds", SECONDS)
    limit_s = time.monotonic() + LIMIT_S
    while sender.poll() is None and time.monotonic() < limit_s:
        select.select(receivers, [], [], 0.1)
        for packets, receiver in zip(heard, receivers, strict=True):
            packets += [each.payload for each in receiver.receive(10_000)]
    out, err = sender.communicate(timeout=LIMIT_S)
    assert sender.returncode == 0, out + err
    for packets, receiver in zip(heard, receivers, strict=True):
        packets += [each.payload for each in receiver.receive(10_000)]
    return heard


def planned_universes(display: Display, protocol: Protocol) -> set[int]:
    """Return the universes of the plan."""
    return {each.universe for each in universes_of(display) if each.protocol is protocol}


def planned_slots(display: Display, protocol: Protocol) -> set[tuple[int, int]]:
    """Return the universe and slot of every colour of every node, from the channel rows."""
    names = {port.name for each in display.controllers if each.protocol is protocol for port in each.ports}
    return {
        (row.universe + (row.slot - 1 + k) // 512, (row.slot - 1 + k) % 512 + 1)
        for row in channel_rows(display)
        if row.string in names
        for k, colour in enumerate(row.colour_order)
        if colour != "W"
    }


def test_the_universes_and_slots_of_the_plan_are_those_that_are_sent():
    """White on every node of the sample, both protocols: the lit slots are those of the channel rows."""
    display = sample_display()
    with UdpReceiver(e131.PORT) as sacn, UdpReceiver(artnet.PORT) as art_net:
        words: list[str | Path] = ["level", SAMPLE, "--level", "100", "-p", "colour=white"]
        acn_heard, art_heard = capture([sacn, art_net], words)
    acn = [packet for packet in map(e131.parse, acn_heard) if isinstance(packet, e131.DataPacket)]
    art = [packet for packet in map(artnet.parse, art_heard) if isinstance(packet, artnet.ArtDmx)]
    assert {packet.universe for packet in acn} == planned_universes(display, Protocol.E131)
    assert {packet.port_address for packet in art} == planned_universes(display, Protocol.ARTNET)
    fixtures = {
        (fixture.universe, fixture.slot + k)
        for each in display.controllers
        for fixture in each.fixtures
        for k in range(len(fixture.channels))
    }
    for sent, protocol in ((acn, Protocol.E131), (art, Protocol.ARTNET)):
        lit = {
            (packet.universe if isinstance(packet, e131.DataPacket) else packet.port_address, slot)
            for packet in sent
            for slot, level in enumerate(packet.slots, 1)
            if level
        }
        assert lit - fixtures == planned_slots(display, protocol)
    assert {len(packet) for packet in acn_heard} == {level_octets(Protocol.E131, 512)}
    assert {len(packet) for packet in art_heard} == {level_octets(Protocol.ARTNET, 512)}


def test_the_groups_packets_and_bits_of_the_plan_are_those_that_are_sent(tmp_path: Path):
    """Every frame to every universe by multicast pinned to loopback, with synchronization and discovery."""
    path = tmp_path / "lake.toml"
    path.write_text(GROUPS)
    display = load(path)
    made = plan_of(display, Asked(RATE_HZ), Host())
    groups = {each.groups.ipv4: each.universe for each in made.universes if each.groups}
    others = [e131.multicast_group(7999), e131.multicast_group(e131.DISCOVERY_UNIVERSE)]
    lo = find_interface("lo")
    with UdpReceiver(e131.PORT, "", [*groups, *others], lo) as receiver:
        (heard,) = capture([receiver], ["level", path, "--interface", "lo", "--every-frame"])
    kinds = Counter(type(packet) for packet in map(e131.parse, heard))
    data = [packet for packet in map(e131.parse, heard) if isinstance(packet, e131.DataPacket)]
    assert {packet.universe for packet in data} == set(groups.values())
    frames = kinds[e131.SyncPacket]
    assert frames > 1
    assert len(data) == frames * len(groups)
    assert kinds[e131.DiscoveryPacket] >= 1
    on_the_wire = {
        kind: wire_octets(len(octets)) * 8 for octets in heard for kind in [type(e131.parse(octets))]
    }
    network = made.network
    assert network.levels.bits_per_s == RATE_HZ * len(groups) * on_the_wire[e131.DataPacket]
    assert network.synchronization.bits_per_s == RATE_HZ * on_the_wire[e131.SyncPacket]
    assert abs(network.discovery.bits_per_s * 10 - on_the_wire[e131.DiscoveryPacket]) < 1e-6


def test_the_command_plans_the_same_file(tmp_path: Path):
    """From the outside: the universes in its JSON."""
    path = tmp_path / "lake.toml"
    path.write_text(GROUPS)
    assert [each["universe"] for each in run("plan", path, "--json").json["universes"]] == [
        *(300, 301, 302),
        63999,
    ]
