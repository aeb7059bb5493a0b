"""What the yard's strings show, node by node as they really hang: those beyond the plan too."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from streamer.display.model import Display
from tui.rows import string_rows
from tui.sight import Sight

if TYPE_CHECKING:
    from patterns.plain import Bytes
    from streamer.yard.messages import PortSeen, YardStatus


class Arriving:
    """Looks at some strings of the yard."""

    def __init__(self) -> None:
        self._sight = Sight()

    def look(
        self, arrivals: "YardStatus", display: Display, ports: Iterable[str]
    ) -> "tuple[tuple[str, Bytes], ...]":
        """Return each port's name and what its nodes show, (n, 4), n being how many hang there."""
        frame = self._sight.look(arrivals.frame_path)
        rows = {row.port.name: row for row in string_rows(display)}
        seen = {each.name: each for each in arrivals.ports}
        if frame is None or sum(row.port.nodes for row in rows.values()) != len(frame.nodes):
            return ()
        return tuple(
            (name, _as_it_hangs(frame.nodes[rows[name].start : rows[name].end], seen[name]))
            for name in ports
            if name in rows and name in seen
        )


def _as_it_hangs(planned: "Bytes", seen: "PortSeen") -> "Bytes":
    import numpy as np

    beyond = np.frombuffer(bytes.fromhex(seen.beyond_hex), np.uint8).reshape(-1, planned.shape[1])
    return np.concatenate([planned[: seen.hung], beyond])
