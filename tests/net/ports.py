"""Ports for tests."""

import socket


def free_port() -> int:
    """Return a port that nobody holds."""
    with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as probe:
        probe.bind(("::", 0))
        return int(probe.getsockname()[1])
