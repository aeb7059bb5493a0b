"""A string as it is planned: where its nodes hang, counted both ways, and how far along it each one is."""

from dataclasses import dataclass
from itertools import accumulate

from streamer.display.model import Port

MM_PER_M = 1000.0


@dataclass(frozen=True, slots=True)
class PlannedString:
    """A port's string. People count places from 1; along the data, lengths are counted from the fed end."""

    port: Port

    @property
    def joints(self) -> tuple[int, ...]:
        """After which place each segment ends, the last one left out."""
        return tuple(accumulate(segment.nodes for segment in self.port.segments))[:-1]

    def segment_of(self, place: int) -> int:
        """Return the segment, from 1, that a place is in; the last one for what is beyond."""
        return 1 + sum(place > joint for joint in self.joints)

    def metres(self, nodes: float, *, is_flipped: bool) -> float | None:
        """Return how long so many nodes are from the fed end, which is the last node's when flipped.

        None where a segment on the way gives no spacing. The first node sits half a spacing in, so between
        two nodes is a whole number of spacings (common practice, no source).
        """
        left, along_mm = nodes, 0.0
        for segment in self.port.segments[::-1] if is_flipped else self.port.segments:
            if left <= 0:
                break
            if segment.spacing_mm is None:
                return None
            along_mm += min(left, segment.nodes) * segment.spacing_mm
            left -= segment.nodes
        return None if left > 0 else along_mm / MM_PER_M
