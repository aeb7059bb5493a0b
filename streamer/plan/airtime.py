"""What multicast costs on a wireless link, where it goes at a basic rate, to everyone, unacknowledged.

From the timing of IEEE 802.11 (OFDM and DSSS physical layers), known from memory.
"""

import math

MAC_OCTETS = 24 + 8 + 4
"""Header, LLC/SNAP and check around an IP datagram."""
OFDM_PREAMBLE_US, OFDM_SYMBOL_US = 20, 4
OFDM_SYMBOL_BITS = 24
"""At 6 Mb/s."""
OFDM_SERVICE_AND_TAIL_BITS = 16 + 6
OFDM_WAIT_US = 34 + 67.5
"""DIFS, and the mean backoff of 7.5 slots of 9 us."""
DSSS_PREAMBLE_US, DSSS_OCTET_US = 192, 8
"""At 1 Mb/s."""
DSSS_WAIT_US = 50 + 310
"""DIFS, and the mean backoff of 15.5 slots of 20 us."""
IP_AND_UDP_OCTETS = 28
BITS_PER_OCTET = 8


def ofdm_us(payload_octets: int) -> float:
    """Return how long one datagram of so many octets keeps the air busy at 6 Mb/s, the slowest at 5 GHz."""
    octets = payload_octets + IP_AND_UDP_OCTETS + MAC_OCTETS
    symbols = math.ceil((OFDM_SERVICE_AND_TAIL_BITS + BITS_PER_OCTET * octets) / OFDM_SYMBOL_BITS)
    return OFDM_PREAMBLE_US + OFDM_SYMBOL_US * symbols + OFDM_WAIT_US


def dsss_us(payload_octets: int) -> float:
    """Return the same at 1 Mb/s, the slowest at 2.4 GHz."""
    octets = payload_octets + IP_AND_UDP_OCTETS + MAC_OCTETS
    return DSSS_PREAMBLE_US + DSSS_OCTET_US * octets + DSSS_WAIT_US
