"""Asking and being answered by one UDP port: what is sent leaves by the port that is heard."""

import socket

from streamer.net.complaints import error_sentence
from streamer.net.destinations import EVERY_ADDRESS, Destination
from streamer.net.ignoring import ignore
from streamer.net.interfaces import Interface
from streamer.net.late_errors import errno_name
from streamer.net.linux import IP_UNICAST_IF, IS_LINUX, UNICAST_IF
from streamer.net.receiver import UdpReceiver


class Exchange(UdpReceiver):
    """Hears IPv4 on a port (0: any that is free) at every address, broadcasts included, and sends from it.

    Given an `interface`, questions leave by it alone and only what comes in by it is heard. Use it in `with`,
    or close it. Raises NetworkError when the port is taken, saying by whom.
    """

    def __init__(self, port: int, interface: Interface | None = None) -> None:
        super().__init__(port, EVERY_ADDRESS, interface=interface)
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        if IS_LINUX and interface is not None:
            index = UNICAST_IF.pack(interface.index)
            self._socket.setsockopt(socket.IPPROTO_IP, IP_UNICAST_IF, index)

    def send(self, octets: bytes, destination: Destination) -> str:
        """Send a datagram; return "" or, where the system refuses, what is wrong and what to do."""
        try:
            self._socket.sendto(octets, destination)
        except OSError as error:
            return error_sentence(errno_name(error.errno), destination)
        return ""

    def ignore(self, at_octet: int, octets: bytes) -> bool:
        """Hear nothing from now on that holds these octets there, if the kernel can: see `ignoring`."""
        return ignore(self._socket, at_octet, octets)
