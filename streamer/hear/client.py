"""The client's end: start a listener in a process of its own, find the ones that run, attach to one."""

from pathlib import Path

from streamer.hear.messages import REPORTS, Report
from streamer.hear.wish import Wish
from streamer.link import addresses
from streamer.link.channel import Link
from streamer.link.processes import running, start_process
from streamer.link.server import connect

SUFFIX = ".listener"
USUAL_NAME = "listener"


HearLink = Link[Report]
"""A listener that a client started ends 2 s after the last one has closed its link."""


def socket_path(name: str) -> Path:
    """Return where the listener called `name` can be reached; LinkError for a name that cannot be."""
    return addresses.socket_path(name, SUFFIX)


def running_listeners() -> tuple[str, ...]:
    """Return the names of this user's listeners that answer."""
    return running(SUFFIX)


def attach(name: str) -> HearLink:
    """Attach to a running listener; LinkError when it does not answer."""
    return connect(socket_path(name), REPORTS)


def start(wish: Wish, client: str, name: str = USUAL_NAME) -> HearLink:
    """Start a listener in a process of its own and attach to it; `client` says for whom, in words.

    LinkError with the listener's words when it does not come up, most often because a port is taken.
    """
    # Looking for those that run clears away what killed ones left.
    running_listeners()
    told = wish.model_dump_json().encode()
    return start_process("streamer.hear.process", [name, client], name, SUFFIX, REPORTS, told)
