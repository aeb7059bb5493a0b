"""Joins a scan of the network with the display in hand, as lines for the sheet that shows it.

It waits for the network: run it in a thread.
"""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from streamer.engine.messages import Setup

if TYPE_CHECKING:
    from streamer.scan.telling import Line

Lines = tuple["Line", ...]


def scanned(setup: Setup | None, own_cid: str, is_over: Callable[[], bool]) -> Iterator[Lines]:
    """Yield what is found and how it compares, twice a second, until `is_over`. Raises NetworkError.

    `own_cid` is that of the run on this screen: it announces itself, and is no stranger.
    """
    from streamer.net.interfaces import find_interface
    from streamer.scan.comparing import compare
    from streamer.scan.poller import ANSWER_S
    from streamer.scan.telling import comparison_lines, found_lines
    from streamer.scan.watching import watch
    from streamer.scan.wish import Wish, addresses_of

    interface = find_interface(setup.interface) if setup and setup.interface else None
    addresses = addresses_of(setup.display) if setup else ()
    for found in watch(Wish(interface, addresses), None, is_over):
        comparison = compare(setup.display, found, own_cid) if setup else None
        is_ripe = comparison and (found.seconds >= ANSWER_S or comparison.is_as_planned)
        compared = tuple(comparison_lines(comparison)) if comparison and is_ripe else ()
        yield (*compared, *found_lines(found))
