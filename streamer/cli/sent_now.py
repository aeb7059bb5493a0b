"""The frame that an engine of this user sends to a display right now; it looks and changes nothing."""

import select
import time
from contextlib import closing
from pathlib import Path

from patterns.plain import Bytes
from streamer.display.model import Display
from streamer.engine.client import EngineLink, attach, client_name, running_engines
from streamer.engine.messages import Plan
from streamer.errors import LinkError
from streamer.link.newest import NewestFrame

PATIENCE_S = 1.0
"""An engine tells a new client at once what it plays on."""
NO_ENGINE = "No engine runs this display now: there is no frame to reckon the present current of."


def sent_now(display: Display) -> tuple[Bytes | None, str]:
    """Return the newest frame's nodes, (N, 4) octets, and whose it is; or None and why."""
    unheard = []
    for name in running_engines():
        try:
            nodes = _nodes_of(name, display)
        except LinkError as error:
            unheard.append(str(error))
            continue
        if nodes is not None:
            return nodes, f"The frame now being sent is that of the run {name}."
    return None, " ".join([NO_ENGINE, *unheard])


def _nodes_of(name: str, display: Display) -> Bytes | None:
    with closing(attach(name, client_name("plan"), control=False)) as link:
        plan = _plan_told(link)
        if plan is None or plan.setup.display != display:
            return None
        number, frame = NewestFrame.open(Path(plan.frame_path)).look()
    return frame.nodes if number else None


def _plan_told(link: EngineLink) -> Plan | None:
    until_s = time.monotonic() + PATIENCE_S
    while link.is_open and (left_s := until_s - time.monotonic()) > 0:
        select.select([link.fileno()], [], [], left_s)
        plans = [report for report in link.receive() if isinstance(report, Plan)]
        if plans:
            return plans[-1]
    return None
