"""Captures of UDP datagrams, written by hand or taken from the loopback interface, read by tshark."""

import re
import shutil
import socket
import struct
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree as ET

TIMEOUT_S = 30
LOOPBACK = "127.0.0.1"
Datagram = tuple[int, bytes]
"""A destination port and a payload."""

OPTIONS = ("--enable-heuristic", "acn", "-o", "acn.dmx_enable:TRUE", "-o", "acn.dmx_display_zeros:TRUE")
"""tshark reads E1.31 only when asked to."""


@dataclass(frozen=True)
class Field:
    """One field as tshark shows it; `octet` counts from the start of the UDP payload."""

    name: str
    octet: int
    size: int
    shown: str


def version() -> tuple[int, int]:
    """Return the installed tshark's version, (0, 0) without one."""
    if not shutil.which("tshark"):
        return 0, 0
    told = subprocess.run(
        ["tshark", "--version"], capture_output=True, text=True, timeout=TIMEOUT_S, check=True
    )
    found = re.search(r"(\d+)\.(\d+)\.\d+", told.stdout)
    assert found, told.stdout
    return int(found[1]), int(found[2])


def write_capture(path: Path, datagrams: Sequence[Datagram]) -> None:
    """Write a capture file by hand: libpcap's classic format, link type 101 (bare IPv4)."""
    octets = struct.pack("<IHHIIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, 101)
    for port, payload in datagrams:
        udp = struct.pack(">HHHH", 40000, port, 8 + len(payload), 0) + payload
        loopback = socket.inet_aton(LOOPBACK)
        packet = struct.pack(">BBHHHBBH", 0x45, 0, 20 + len(udp), 0, 0, 64, 17, 0) + loopback * 2 + udp
        octets += struct.pack("<IIII", 0, 0, len(packet), len(packet)) + packet
    path.write_bytes(octets)


def wait_until_it_captures(tshark: "subprocess.Popen[str]") -> None:
    """Return once tshark says so; PermissionError with its words if it ends instead."""
    assert tshark.stderr
    told = []
    for line in tshark.stderr:
        told.append(line)
        if "Capture started" in line:
            return
    raise PermissionError("".join(told))


def capture_loopback(path: Path, datagrams: Sequence[Datagram]) -> None:
    """Send datagrams to 127.0.0.1 while tshark captures them there, and wait until it has them all."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.bind((LOOPBACK, 0))
        only_ours = f"udp and src port {sender.getsockname()[1]}"
        command = ["tshark", "-i", "lo", "-f", only_ours, "-c", str(len(datagrams)), "-a", "duration:10"]
        with subprocess.Popen([*command, "-w", str(path)], stderr=subprocess.PIPE, text=True) as tshark:
            wait_until_it_captures(tshark)
            for port, payload in datagrams:
                sender.sendto(payload, (LOOPBACK, port))
            tshark.communicate(timeout=TIMEOUT_S)


def dissect(path: Path) -> list[list[Field]]:
    """Return the fields of each datagram in a capture file."""
    command = ["tshark", "-r", str(path), *OPTIONS, "-T", "pdml"]
    told = subprocess.run(command, capture_output=True, timeout=TIMEOUT_S, check=True)
    tree = ET.fromstring(told.stdout)  # noqa: S314  it is tshark's own output about our own packets
    return [_fields(packet) for packet in tree.iter("packet")]


def _fields(packet: ET.Element) -> list[Field]:
    (udp,) = packet.iterfind("proto[@name='udp']")
    payload = int(udp.attrib["pos"]) + int(udp.attrib["size"])
    return [
        Field(
            field.attrib["name"],
            int(field.attrib["pos"]) - payload,
            int(field.attrib["size"]),
            field.attrib.get("show", ""),
        )
        for field in packet.iter("field")
        if int(field.attrib.get("pos", 0)) >= payload
    ]
