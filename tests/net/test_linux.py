import re
from pathlib import Path

import pytest

from streamer.net import linux

HEADERS = Path("/usr/include")
BY_NUMBER = [
    ("linux/in.h", "IP_PKTINFO"),
    ("linux/in.h", "IP_RECVERR"),
    ("linux/in.h", "IP_UNICAST_IF"),
    ("linux/in6.h", "IPV6_RECVERR"),
    ("linux/in6.h", "IPV6_UNICAST_IF"),
    ("linux/udp.h", "UDP_SEGMENT"),
    ("linux/errqueue.h", "SO_EE_ORIGIN_LOCAL"),
    ("asm-generic/socket.h", "SO_RCVBUFFORCE"),
    ("asm-generic/socket.h", "SO_MEMINFO"),
]


def _header(name: str) -> str:
    if not (HEADERS / name).exists():
        pytest.skip(f"needs the kernel's header {name}, to compare with")
    return (HEADERS / name).read_text()


@pytest.mark.parametrize(("header", "name"), BY_NUMBER)
def test_an_option_has_the_kernels_number(header: str, name: str):
    """Reference: the Linux user-space headers."""
    match = re.search(rf"#define\s+{name}\s+(\d+)", _header(header))
    assert match is not None
    assert int(match[1]) == getattr(linux, name)


def test_drops_are_the_ninth_counter_of_nine():
    """Reference: linux/sock_diag.h, the enum that SK_MEMINFO_VARS ends."""
    names = re.findall(r"SK_MEMINFO_\w+", _header("linux/sock_diag.h"))
    assert names.index("SK_MEMINFO_DROPS") == linux.SK_MEMINFO_DROPS
    assert names.index("SK_MEMINFO_VARS") * 4 == linux.MEMINFO.size
