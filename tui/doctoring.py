"""The doctor's checks of the display in hand, as they are made; they take seconds: off the event loop."""

from collections.abc import Callable, Iterator

from streamer.doctor.checks import Check
from streamer.engine.messages import Setup


def checks(setup: Setup, own_cid: str, is_over: Callable[[], bool]) -> Iterator[Check]:
    """Yield them until `is_over`; `own_cid` is that of the run on this screen. Raises RopewalkError."""
    from streamer.cli.symptoms import LISTEN_S, Symptoms
    from streamer.doctor.chain import examine

    with Symptoms(LISTEN_S, own_cid, is_over) as eyes:
        for check in examine(setup.display, setup.interface, eyes):
            if is_over():
                return
            yield check
