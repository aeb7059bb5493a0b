"""Packets laid out through the protocol libraries are the packets of the standards."""

import psutil
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.errors import FieldError
from streamer.wire import lay_out
from streamer.wire.artnet import ArtDmx
from streamer.wire.e131 import DataPacket, Options
from tests.wire.golden import CID, G1

OPTIONS = [Options(bits << 5) for bits in range(8)]


def test_the_library_lays_out_the_golden_packet_but_for_sequence_and_slots():
    """ANSI E1.31-2018 Tables 4-1, 5-4, 6-5, 7-8: 12 slots, every length right."""
    packet = lay_out.e131_data(CID, "Nodes Süd 7", 300, 12, 117, 7001, Options.FORCE_SYNCHRONIZATION, 0)
    packet[111] = 201
    packet[126:] = G1.octets[126:]
    assert packet == G1.octets


@pytest.mark.parametrize("options", OPTIONS)
@pytest.mark.parametrize("slot_count", [1, 2, 170, 510, 511, 512])
def test_e131_of_any_length_and_options_is_what_our_codec_makes(slot_count: int, options: Options):
    """The library and our own encoder agree on every octet."""
    laid_out = lay_out.e131_data(CID, "Jetty", 63999, slot_count, 200, 63999, options, 0xDD)
    wanted = DataPacket(CID, "Jetty", 63999, bytes(slot_count), 0, 200, 63999, options, 0xDD)
    assert laid_out == wanted.encode()


@given(
    st.builds(
        DataPacket,
        cid=st.uuids(),
        source_name=st.just("Jetty"),
        universe=st.integers(1, 63999),
        slots=st.integers(1, 512).map(bytes),
        priority=st.integers(0, 200),
        sync_address=st.integers(0, 63999),
        options=st.sampled_from(OPTIONS),
        start_code=st.integers(0, 255),
    )
)
def test_e131_with_any_fields_is_what_our_codec_makes(wanted: DataPacket):
    """All that may vary, varied."""
    laid_out = lay_out.e131_data(
        wanted.cid,
        wanted.source_name,
        wanted.universe,
        len(wanted.slots),
        wanted.priority,
        wanted.sync_address,
        wanted.options,
        wanted.start_code,
    )
    assert laid_out == wanted.encode()


@pytest.mark.parametrize("port_address", [0, 19, 255, 256, 1443, 32767])
@pytest.mark.parametrize("slot_count", [2, 170, 510, 512])
def test_artdmx_is_what_our_codec_makes(port_address: int, slot_count: int):
    """Every Net, Sub-Net and Universe, with the sequence and Physical that the library cannot set."""
    laid_out = lay_out.artdmx(port_address, slot_count, 7, 3)
    assert laid_out == ArtDmx(port_address, bytes(slot_count), 7, 3).encode()


def test_laying_out_leaves_no_socket_open():
    """The library opens one for each packet that it lays out."""
    process = psutil.Process()
    before = process.num_fds()
    packets = [lay_out.artdmx(port_address, 512, 0, 0) for port_address in range(20)]
    assert len(packets) == 20
    assert process.num_fds() == before


@pytest.mark.parametrize("slot_count", [-1, 0, 1, 7, 513, 514, 10**12])
def test_artdmx_of_a_length_that_is_not_allowed_is_refused(slot_count: int):
    """Even, 2 to 512; the library would round or cut without a word."""
    with pytest.raises(FieldError):
        lay_out.artdmx(1, slot_count, 0, 0)


@pytest.mark.parametrize("port_address", [-1, 32768, 40000])
def test_artdmx_for_a_port_address_that_is_not_allowed_is_refused(port_address: int):
    """15 bits; the library would set bit 15."""
    with pytest.raises(FieldError):
        lay_out.artdmx(port_address, 512, 0, 0)


@pytest.mark.parametrize("slot_count", [-1, 0, 513, 10**12])
def test_e131_of_a_length_that_is_not_allowed_is_refused(slot_count: int):
    """1 to 512."""
    with pytest.raises(FieldError):
        lay_out.e131_data(CID, "Jetty", 1, slot_count, 100, 0, Options(0), 0)


def test_e131_with_a_wrong_name_is_refused_in_our_own_words():
    """The library's own ValueError never comes out."""
    with pytest.raises(FieldError, match="source name"):
        lay_out.e131_data(CID, "x" * 64, 1, 512, 100, 0, Options(0), 0)
