import os
from types import SimpleNamespace
from typing import Never

import psutil
import pytest

from streamer.net.receiver import UdpReceiver
from streamer.net.who import holder_of_udp_port, is_held_everywhere


def _socket(port: int, pid: int | None) -> SimpleNamespace:
    return SimpleNamespace(laddr=SimpleNamespace(port=port), pid=pid)


def _names(pid: int) -> str:
    return {4711: "python3", 4712: "re\x1b[2Jd"}[pid]


def test_a_free_port_has_no_holder():
    """Sockets on other ports, and those bound to none, do not count."""
    assert (
        holder_of_udp_port(5568, lambda: [_socket(6454, 1), SimpleNamespace(laddr=(), pid=2)], _names) is None
    )


def test_the_holder_is_named():
    """A person can look for the process by number and by name."""
    assert holder_of_udp_port(5568, lambda: [_socket(5568, 4711)], _names) == "process 4711 (python3)"


def test_all_who_share_a_port_are_named_once():
    """A process with two sockets on the port is one holder."""
    sharing = [_socket(5568, 4712), _socket(5568, 4711), _socket(5568, 4711)]
    words = holder_of_udp_port(5568, lambda: sharing, lambda _: "python3")
    assert words == "process 4711 (python3) and process 4712 (python3)"


def test_a_process_that_may_not_be_seen_is_said_to_be():
    """Linux lists another user's socket without its process."""
    assert "administrator rights" in str(holder_of_udp_port(5568, lambda: [_socket(5568, None)], _names))


def test_a_system_that_lists_no_sockets_without_rights_is_said_to():
    """MacOS refuses the whole list; psutil then raises AccessDenied."""

    def refused() -> Never:
        raise psutil.AccessDenied

    assert "administrator rights" in str(holder_of_udp_port(5568, refused, _names))


def test_a_process_that_has_just_ended_is_known_by_number():
    """Its name can no longer be asked for."""

    def ended(pid: int) -> Never:
        raise psutil.NoSuchProcess(pid)

    assert holder_of_udp_port(5568, lambda: [_socket(5568, 4711)], ended) == "process 4711"


def test_control_characters_in_a_process_name_are_neutralised():
    """Any program may call itself anything, escape sequences included."""
    assert holder_of_udp_port(5568, lambda: [_socket(5568, 4712)], _names) == "process 4712 (re?[2Jd)"


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs a Unix, where one's own sockets are listed")
@pytest.mark.parametrize(("address", "is_everywhere"), [("", True), ("127.0.0.1", False)])
def test_a_port_held_at_every_address_is_told_from_one_held_at_one(address: str, *, is_everywhere: bool):
    """The real list again."""
    with UdpReceiver(0, address) as receiver:
        assert is_held_everywhere(receiver.port) is is_everywhere


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs a Unix, where one's own sockets are listed")
def test_our_own_port_is_found_to_be_ours():
    """The real list of this machine's sockets."""
    with UdpReceiver(0) as receiver:
        assert f"process {os.getpid()}" in str(holder_of_udp_port(receiver.port))
