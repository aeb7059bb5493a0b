"""The library `sacn` hears from us what we said, and we hear from it what it said, on loopback only."""

import queue
import socket
from collections.abc import Iterator
from dataclasses import replace

import pytest
import sacn
from sacn.messages.sync_packet import SyncPacket as SacnSyncPacket

from streamer.wire import e131, lay_out
from streamer.wire.e131 import DataPacket, DiscoveryPacket, Options, SyncPacket
from tests.wire.golden import CID, FULL_DATA, G1, Golden

LOOPBACK = "127.0.0.1"
TIMEOUT_S = 5.0


@pytest.fixture
def heard() -> Iterator[tuple[int, queue.Queue[sacn.DataPacket]]]:
    """Run the library's receiver for universe 300 on a free port, and queue what it hears."""
    packets: queue.Queue[sacn.DataPacket] = queue.Queue()
    receiver = sacn.sACNreceiver(bind_address=LOOPBACK, bind_port=0)
    port = receiver._handler.socket._socket.getsockname()[1]
    receiver.register_listener("universe", packets.put, universe=300)
    receiver.start()
    yield port, packets
    receiver.stop()


def test_the_library_receives_every_field_that_we_send(heard: tuple[int, queue.Queue[sacn.DataPacket]]):
    """ANSI E1.31-2018 Tables 5-4, 6-5 and 7-8, over a real socket."""
    port, packets = heard
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(G1.packet.encode(), (LOOPBACK, port))
    packet = packets.get(timeout=TIMEOUT_S)
    assert bytes(packet.cid) == CID.bytes
    assert packet.sourceName == "Nodes Süd 7"
    assert (packet.priority, packet.syncAddr, packet.sequence, packet.universe) == (117, 7001, 201, 300)
    assert packet.option_ForceSync
    assert not packet.option_PreviewData
    assert not packet.option_StreamTerminated
    assert packet.dmxStartCode == 0
    assert bytes(packet.dmxData[:12]) == G1.packet.slots


def test_the_library_receives_a_stream_patched_in_place(heard: tuple[int, queue.Queue[sacn.DataPacket]]):
    """One packet laid out, then sequence and slots patched for each frame, past 255 to 0."""
    port, packets = heard
    packet = lay_out.e131_data(CID, "Boathouse", 300, 510, 100, 0, Options(0), 0)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        for frame in range(260):
            packet[e131.SEQUENCE_OCTET] = frame % 256
            packet[e131.SLOTS_OCTET] = (frame + 1) % 256
            sender.sendto(packet, (LOOPBACK, port))
            received = packets.get(timeout=TIMEOUT_S)
            assert (received.sequence, received.dmxData[0]) == (frame % 256, (frame + 1) % 256)


@pytest.mark.parametrize("golden", [G1, FULL_DATA], ids=lambda golden: golden.name)
def test_the_library_reads_our_octets(golden: Golden):
    """Its own parser, without a socket."""
    read = sacn.DataPacket.make_data_packet(golden.packet.encode())
    assert read.universe == golden.packet.universe
    assert bytes(read.dmxData[: len(golden.packet.slots)]) == golden.packet.slots


@pytest.mark.parametrize("universe", [1, 300, 63999])
@pytest.mark.parametrize("options", [Options(0), *Options])
def test_we_read_the_librarys_data_packets(universe: int, options: Options):
    """Always 512 slots, every option."""
    sent = sacn.DataPacket(
        cid=tuple(CID.bytes),
        sourceName="Jetty",
        universe=universe,
        dmxData=(1, 2, 3),
        priority=150,
        sequence=77,
        previewData=Options.PREVIEW_DATA in options,
        streamTerminated=Options.STREAM_TERMINATED in options,
        forceSync=Options.FORCE_SYNCHRONIZATION in options,
        sync_universe=7001,
    )
    wanted = DataPacket(CID, "Jetty", universe, b"\1\2\3" + bytes(509), 77, 150, 7001, options)
    assert e131.parse(bytes(sent.getBytes())) == wanted
    assert bytes(sent.getBytes()) == wanted.encode()


def test_we_read_the_librarys_synchronization_packets():
    """Table 6-6."""
    sent = SacnSyncPacket(cid=tuple(CID.bytes), syncAddr=7001, sequence=77)
    assert e131.parse(bytes(sent.getBytes())) == SyncPacket(CID, 7001, 77)
    assert bytes(sent.getBytes()) == SyncPacket(CID, 7001, 77).encode()


@pytest.mark.parametrize("universes", [(), (1,), (1, 300, 63999), tuple(range(1, 513))])
def test_we_read_the_librarys_discovery_packets(universes: tuple[int, ...]):
    """Tables 6-7 and 8-9, from an empty page to a full one."""
    sent = sacn.UniverseDiscoveryPacket(tuple(CID.bytes), "Jetty", universes, page=1, lastPage=2)
    wanted = DiscoveryPacket(CID, "Jetty", universes, page=1, last_page=2)
    assert e131.parse(bytes(sent.getBytes())) == wanted
    assert bytes(sent.getBytes()) == wanted.encode()


@pytest.mark.parametrize("universe", [1, 256, 300, 63999])
def test_the_library_sends_to_the_same_groups(universe: int):
    """Table 9-10."""
    packet = sacn.DataPacket(tuple(CID.bytes), "Jetty", universe)
    assert packet.calculate_multicast_addr() == e131.multicast_group(universe)


def test_the_comparison_can_fail():
    """Another priority is another packet."""
    sent = sacn.DataPacket(tuple(CID.bytes), "Jetty", 1, priority=101)
    wanted = DataPacket(CID, "Jetty", 1, bytes(512))
    assert e131.parse(bytes(sent.getBytes())) == replace(wanted, priority=101) != wanted
