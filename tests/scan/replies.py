"""ArtPollReply packets written octet by octet from the specification's table; no codec of ours makes them."""

OFFSETS = {
    "ip": (10, 4),
    "version": (16, 2),
    "net_switch": (18, 1),
    "sub_switch": (19, 1),
    "oem": (20, 2),
    "status1": (23, 1),
    "esta": (24, 2),
    "short_name": (26, 18),
    "long_name": (44, 64),
    "node_report": (108, 64),
    "num_ports": (172, 2),
    "port_types": (174, 4),
    "good_input": (178, 4),
    "good_output": (182, 4),
    "sw_in": (186, 4),
    "sw_out": (190, 4),
    "style": (200, 1),
    "mac": (201, 6),
    "bind_ip": (207, 4),
    "bind_index": (211, 1),
    "status2": (212, 1),
    "status3": (217, 1),
    "refresh_rate": (226, 2),
}
"""Art-Net 4, ArtPollReply: first octet and size of the fields that the tests write."""
SIZE = 239
HEAD = bytes.fromhex("4172742d4e6574000021")
"""ID "Art-Net" and a zero, OpCode 0x2100 low octet first; a reply has no ProtVer."""
PORT = bytes.fromhex("3619")


def reply(**fields: bytes) -> bytes:
    """Return a reply whose fields hold these octets, as they are on the wire; all others are zero."""
    octets = bytearray(SIZE)
    octets[:10] = HEAD
    octets[14:16] = PORT
    for name, value in fields.items():
        first, size = OFFSETS[name]
        assert len(value) <= size, name
        octets[first : first + len(value)] = value
    return bytes(octets)


def outputs(*universes: int, bind: int = 1, report: bytes = b"#0001 [0001] fine", **fields: bytes) -> bytes:
    """Return a reply of 10.0.0.9 with outputs on these Universes (0 to 15) of Net 0, Sub-Net 1."""
    said = {
        "ip": bytes([10, 0, 0, 9]),
        "bind_ip": bytes([10, 0, 0, 9]),
        "sub_switch": b"\x01",
        "short_name": b"shed",
        "num_ports": bytes([0, len(universes)]),
        "port_types": b"\x80" * len(universes),
        "sw_out": bytes(universes),
        "bind_index": bytes([bind]),
        "node_report": report,
    }
    return reply(**(said | fields))
