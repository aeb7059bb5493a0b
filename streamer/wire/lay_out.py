"""Lays out a stream's packet once, all slots zero, to be patched in place for each frame.

The protocol libraries `sacn` and `stupidArtnet` do it where they do it right; what they cannot say is
set here, and the result is read back before it is returned. Nowhere else are they imported.
"""

from uuid import UUID

from sacn import DataPacket as SacnDataPacket
from stupidArtnet import StupidArtnet

from streamer.errors import NetworkError, RopewalkError
from streamer.wire import acn, artnet, e131
from streamer.wire.fields import check_range

WORD_OCTETS = 2
NOWHERE = "127.0.0.1"
"""The library wants an address; nothing is sent to it."""


def e131_data(  # noqa: PLR0913, PLR0917  they are the packet's fields
    cid: UUID,
    source_name: str,
    universe: int,
    slot_count: int,
    priority: int,
    sync_address: int,
    options: e131.Options,
    start_code: int,
) -> bytearray:
    """Return the 126 + `slot_count` octets of an E1.31 data packet with sequence 0, or raise FieldError."""
    check_range("number of slots", slot_count, 1, e131.SLOTS_MAX)
    wanted = e131.DataPacket(
        cid,
        source_name,
        universe,
        bytes(slot_count),
        priority=priority,
        sync_address=sync_address,
        options=options,
        start_code=start_code,
    )
    wanted.encode()
    laid_out = SacnDataPacket(
        cid=tuple(cid.bytes),
        sourceName=source_name,
        universe=universe,
        priority=priority,
        streamTerminated=e131.Options.STREAM_TERMINATED in options,
        previewData=e131.Options.PREVIEW_DATA in options,
        forceSync=e131.Options.FORCE_SYNCHRONIZATION in options,
        sync_universe=sync_address,
        dmxStartCode=start_code,
    )
    packet = bytearray(laid_out.getBytes())
    _cut(packet, slot_count)
    if e131.parse(packet) != wanted:
        raise RopewalkError(_differs("sacn", "ANSI E1.31-2018", packet))
    return packet


def artdmx(port_address: int, slot_count: int, sequence: int, physical: int) -> bytearray:
    """Return the 18 + `slot_count` octets of an ArtDmx, or raise FieldError; `slot_count` is even.

    Raises NetworkError where the system has no socket left: the library opens one, which is closed unused.
    """
    check_range("Length", slot_count, artnet.SLOTS_MIN, artnet.SLOTS_MAX)
    wanted = artnet.ArtDmx(port_address, bytes(slot_count), sequence, physical)
    wanted.encode()
    try:
        library = StupidArtnet(NOWHERE, universe=port_address, packet_size=slot_count)
    except OSError as error:
        instead = "Close other programs, or allow this one more open files"
        raise NetworkError(f"no socket to be had ({error})", "laying out ArtDmx", instead) from error
    library.close()
    packet = bytearray(library.packet_header + library.buffer)
    # The library keeps its header's first sequence for ever and has no way to set Physical.
    packet[artnet.SEQUENCE_OCTET] = sequence
    packet[artnet.PHYSICAL_OCTET] = physical
    if artnet.parse(packet) != wanted:
        raise RopewalkError(_differs("stupidArtnet", "Art-Net 4", packet))
    return packet


def _cut(packet: bytearray, slot_count: int) -> None:
    """Cut a packet of 512 slots, which is all that the library makes, and correct its length words."""
    size = e131.SLOTS_OCTET + slot_count
    del packet[size:]
    for octet in (acn.ROOT_LENGTH_OCTET, acn.FRAMING_LENGTH_OCTET, e131.DMP_LENGTH_OCTET):
        _set_word(packet, octet, acn.flags_and_length(size, octet))
    _set_word(packet, e131.PROPERTY_VALUE_COUNT_OCTET, size - e131.START_CODE_OCTET)


def _set_word(packet: bytearray, octet: int, word: int) -> None:
    packet[octet : octet + WORD_OCTETS] = word.to_bytes(WORD_OCTETS, "big")


def _differs(library: str, standard: str, packet: bytearray) -> str:
    return (
        f"the installed {library} lays out a packet that {standard} reads otherwise ({packet.hex()}). "
        f"Install the version of {library} that pyproject.toml asks for"
    )
