"""What `ropewalk send` adds to a display, whatever its file says: the priority, and synchronization.

Raises PlanError for what no controller of the display can obey.
"""

from streamer.display.model import Controller, Display, Protocol
from streamer.engine.messages import SYNC_GAP_DEFAULT_MS, SYNC_GAP_MAX_MS
from streamer.errors import PlanError, Problem
from streamer.wire.acn import UNIVERSE_MAX
from streamer.wire.e131 import SYNC_ADDRESS_NONE, UNIVERSE_MIN

LEAVE_OUT = "Leave it out"


def with_priority(display: Display, priority: int) -> Display:
    """Return the display with this priority on its E1.31 controllers."""
    problem = Problem("--priority", "Art-Net packets carry no priority", LEAVE_OUT)
    return _with(display, Protocol.E131, problem, priority=priority)


def with_sync_address(display: Display, universe: int) -> Display:
    """Return the display with its E1.31 controllers synchronized by this universe."""
    if not UNIVERSE_MIN <= universe <= UNIVERSE_MAX:
        none = ", which says 'not synchronized'" if universe == SYNC_ADDRESS_NONE else ""
        what = f"{universe} is no universe to synchronize by{none}"
        instead = f"Write one from {UNIVERSE_MIN} to {UNIVERSE_MAX}, best one that carries no levels"
        raise PlanError([Problem("--sync", what, instead)])
    instead = "Write --art-sync instead"
    problem = Problem("--sync", "Art-Net is not synchronized by a universe, but by ArtSync", instead)
    return _with(display, Protocol.E131, problem, sync_address=universe)


def with_art_sync(display: Display) -> Display:
    """Return the display with an ArtSync after each frame of its Art-Net controllers."""
    instead = "Write --sync and a universe instead, such as --sync 7999"
    problem = Problem("--art-sync", "E1.31 is not synchronized by ArtSync, but by a universe", instead)
    return _with(display, Protocol.ARTNET, problem, art_sync=True)


def sync_gap_ms(display: Display, asked_ms: float | None) -> float:
    """Return the gap before a synchronization packet: the one asked for, if anything is synchronized."""
    if asked_ms is None:
        return SYNC_GAP_DEFAULT_MS
    if not 0 <= asked_ms <= SYNC_GAP_MAX_MS:
        what = f"{asked_ms:g} ms is no gap between a frame and its synchronization packet"
        raise PlanError([Problem("--sync-gap", what, f"Write 0 to {SYNC_GAP_MAX_MS:g}")])
    if not any(each.art_sync or each.sync_address != SYNC_ADDRESS_NONE for each in display.controllers):
        instead = "Write --sync UNIVERSE (E1.31) or --art-sync (Art-Net) too, or leave it out"
        raise PlanError([Problem("--sync-gap", "nothing is synchronized", instead)])
    return asked_ms


def _with(display: Display, protocol: Protocol, problem: Problem, **changes: object) -> Display:
    """Return the display with these changes to all controllers of a protocol; the problem if it has none."""
    if all(controller.protocol is not protocol for controller in display.controllers):
        raise PlanError([problem])

    def changed(controller: Controller) -> Controller:
        return controller.model_copy(update=changes) if controller.protocol is protocol else controller

    return display.model_copy(update={"controllers": tuple(map(changed, display.controllers))})
