"""An outlet whose packets are kept in a capture as well, where the setup asks for one."""

from dataclasses import replace

from streamer.engine.messages import Setup
from streamer.engine.outlet import Broadcast, Outlet, open_outlet


def open_kept_outlet(setup: Setup) -> Outlet:
    """Open the sockets of a run, and the capture it asks for. Raises NetworkError and CaptureError."""
    outlet = open_outlet(setup)
    if setup.record is None:
        return outlet
    # What lays out captures takes a while to load, and few runs want it.
    from streamer.capture.sent import keeper

    try:
        kept = keeper(setup.record, outlet.senders, setup.interface or "")
    except BaseException:
        outlet.close()
        raise
    return replace(
        outlet,
        data=kept[outlet.data],
        discovery=tuple(kept[each] for each in outlet.discovery),
        discovery_ipv6=tuple(kept[each] for each in outlet.discovery_ipv6),
        broadcasts={
            controller: Broadcast(kept[each.sender], each.address)
            for controller, each in outlet.broadcasts.items()
        },
    )
