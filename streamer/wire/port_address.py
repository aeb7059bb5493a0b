"""Art-Net 4's 15-bit Port-Address: Net (bits 14 to 8), Sub-Net (7 to 4) and Universe (3 to 0)."""

import re

from streamer.errors import FieldError
from streamer.wire.fields import check_range

PORT_ADDRESS_MAX = 0x7FFF
NET_MAX = 127
SUB_NET_MAX = 15
UNIVERSE_MAX = 15
NET_SHIFT = 8
SUB_NET_SHIFT = 4

_TRIPLE = re.compile(r"([0-9]{1,3}):([0-9]{1,2}):([0-9]{1,2})")


def check(port_address: int) -> None:
    """Raise FieldError unless 0 <= port_address <= 32767."""
    check_range("Port-Address", port_address, 0, PORT_ADDRESS_MAX)


def split(port_address: int) -> tuple[int, int, int]:
    """Return Net, Sub-Net and Universe, or raise FieldError."""
    check(port_address)
    return (
        port_address >> NET_SHIFT,
        port_address >> SUB_NET_SHIFT & SUB_NET_MAX,
        port_address & UNIVERSE_MAX,
    )


def join(net: int, sub_net: int, universe: int) -> int:
    """Return the Port-Address of Net 0 to 127, Sub-Net 0 to 15, Universe 0 to 15, or raise FieldError."""
    check_range("Net", net, 0, NET_MAX)
    check_range("Sub-Net", sub_net, 0, SUB_NET_MAX)
    check_range("Universe", universe, 0, UNIVERSE_MAX)
    return net << NET_SHIFT | sub_net << SUB_NET_SHIFT | universe


def parse_triple(written: str) -> int:
    """Read "0:1:3", Net:Sub-Net:Universe, or raise FieldError."""
    parts = _TRIPLE.fullmatch(written.strip())
    if not parts:
        raise FieldError("Port-Address", written, 'Net:Sub-Net:Universe, such as "0:1:3"')
    net, sub_net, universe = map(int, parts.groups())
    return join(net, sub_net, universe)


def triple(port_address: int) -> str:
    """Return Net:Sub-Net:Universe, "0:1:3"; one past the last, which may be complained of, is "128:0:0"."""
    net, rest = divmod(port_address, 1 << NET_SHIFT)
    sub_net, universe = divmod(rest, 1 << SUB_NET_SHIFT)
    return f"{net}:{sub_net}:{universe}"


def text(port_address: int) -> str:
    """Return both ways of writing it: "19 (0:1:3)"."""
    return f"{port_address} ({triple(port_address)})"
