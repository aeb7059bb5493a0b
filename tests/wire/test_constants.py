"""The numbers of the standards that no packet shows by itself, each against its clause."""

import pytest

from streamer.wire import artnet, artnet_reception, e131, sequence
from streamer.wire.artnet import ArtPollReply

NUMBERS = {
    # ANSI E1.31-2018
    "9.1.1, UDP port": (e131.PORT, 5568),
    "appendix A, discovery universe": (e131.DISCOVERY_UNIVERSE, 64214),
    "appendix A, network data loss": (e131.DATA_LOSS_TIMEOUT_S, 2.5),
    "appendix A, universe discovery interval": (e131.DISCOVERY_INTERVAL_S, 10.0),
    "6.6.2, packets before quiet": (e131.REPEATS_BEFORE_QUIET, 3),
    "6.6.2, keep-alive no sooner than": (e131.KEEP_ALIVE_MIN_S, 0.8),
    "6.6.2, keep-alive no later than": (e131.KEEP_ALIVE_MAX_S, 1.0),
    "6.2.6, terminated packets": (e131.TERMINATED_PACKETS, 3),
    "6.2.3, usual priority": (e131.PRIORITY_DEFAULT, 100),
    "6.7.2, steps back that are old": (sequence.DISCARD_STEPS, 20),
    # Art-Net 4
    "UDP port": (artnet.PORT, 0x1936),
    "ArtPollReply, Port": (ArtPollReply().port, 0x1936),
    "ArtPollReply, Oem of no registered product": (ArtPollReply().oem, 0x00FF),
    "ArtSync, back to unsynchronized": (artnet_reception.SYNC_TIMEOUT_S, 4.0),
    "ArtDmx, a silent source stays in the merge": (artnet_reception.MERGE_TIMEOUT_S, 10.0),
    "ArtDmx, sources of one Port-Address": (artnet_reception.MERGE_SOURCES_MAX, 2),
}
E131_OCTETS = {  # Tables 6-5 and 7-8
    "priority": (e131.PRIORITY_OCTET, 108),
    "synchronization address": (e131.SYNC_ADDRESS_OCTET, 109),
    "sequence number": (e131.SEQUENCE_OCTET, 111),
    "options": (e131.OPTIONS_OCTET, 112),
    "universe": (e131.UNIVERSE_OCTET, 113),
    "START code": (e131.START_CODE_OCTET, 125),
    "slots": (e131.SLOTS_OCTET, 126),
}
ARTDMX_OCTETS = {  # Art-Net 4, ArtDmx
    "Sequence": (artnet.SEQUENCE_OCTET, 12),
    "Physical": (artnet.PHYSICAL_OCTET, 13),
    "Port-Address": (artnet.PORT_ADDRESS_OCTET, 14),
    "Length": (artnet.LENGTH_OCTET, 16),
    "Data": (artnet.SLOTS_OCTET, 18),
}


@pytest.mark.parametrize("table", [NUMBERS, E131_OCTETS, ARTDMX_OCTETS])
def test_a_number_is_what_its_standard_says(table: dict[str, tuple[float, float]]):
    """Ports, times and counts; and the octets at which whoever patches packets in place writes."""
    wrong = {name: ours for name, (ours, published) in table.items() if ours != published}
    assert wrong == {}
