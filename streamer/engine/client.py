"""The client's end: start an engine, find the ones that run, attach to one."""

import os
from pathlib import Path

from streamer.engine.messages import REPORTS, Hello, Report
from streamer.link.addresses import socket_path as _socket_path
from streamer.link.channel import Link
from streamer.link.processes import running, start_process
from streamer.link.server import connect

SUFFIX = ".engine"


EngineLink = Link[Report]
"""Closing it detaches; what becomes of the run then, its leash says."""


def socket_path(name: str) -> Path:
    """Return where the engine called `name` listens; LinkError for a name that cannot be."""
    return _socket_path(name, SUFFIX)


def running_engines() -> tuple[str, ...]:
    """Return the names of this user's engines that answer."""
    return running(SUFFIX)


def attach(name: str, client: str, *, control: bool) -> EngineLink:
    """Attach to a running engine; LinkError when it does not answer."""
    link = connect(socket_path(name), REPORTS)
    link.send(Hello(client=client, control=control))
    return link


def start(name: str, client: str) -> EngineLink:
    """Start an engine in a process of its own and attach to it with control; LinkError with its words."""
    link = start_process("streamer.engine.process", [name], name, SUFFIX, REPORTS)
    link.send(Hello(client=client, control=True))
    return link


STOPPER = "ropewalk stop"
"""What a client calls itself that takes control only to end the run."""


def client_name(kind: str) -> str:
    """Return how a client of this process is called: "screen, process 4711"."""
    return f"{kind}, process {os.getpid()}"
