"""The kernel's table of hardware addresses, beside what iproute2 reads of it."""

import json
import socket

import pytest

from streamer.net.neighbours import State, neighbours
from tests.rig.cable import Cable

pytestmark = pytest.mark.rig


def test_the_table_is_what_iproute2_shows(cable: Cable):
    """Of both IP versions: one that answers, one that does not, and one that was known once."""
    near, far = cable.near, cable.far
    for host, address in ((near, "fd61::1/64"), (far, "fd61::2/64")):
        host.ip("address", "add", address, "dev", host.interface, "nodad")
    # Who does not answer is asked for as long as the test takes: Documentation/networking/ip-sysctl of Linux.
    near.run("sysctl", "-qw", f"net.ipv4.neigh.{near.interface}.retrans_time_ms=60000")
    near.ip(
        "neigh", "replace", "10.61.0.7", "lladdr", "02:00:00:00:00:07", "dev", near.interface, "nud", "stale"
    )
    with near.inside():
        for family, address in (
            (socket.AF_INET, far.address),
            (socket.AF_INET, "10.61.0.77"),
            (socket.AF_INET6, "fd61::2"),
        ):
            with socket.socket(family, socket.SOCK_DGRAM) as sock:
                sock.sendto(b"", (address, 9))
        near.run("sleep", "0.2")
        ours = {address: str(each.state.name) for address, each in neighbours().items()}
        theirs = json.loads(near.ip("-json", "neigh", "show", "dev", near.interface))
        assert neighbours()[far.address].confirmed_s_ago < 5
    assert ours.items() >= {each["dst"]: each["state"][0] for each in theirs}.items()
    wanted = {far.address: State.REACHABLE, "10.61.0.77": State.INCOMPLETE, "10.61.0.7": State.STALE}
    assert ours.items() >= {address: state.name for address, state in wanted.items()}.items()
    assert ours["fd61::2"] == State.REACHABLE.name
