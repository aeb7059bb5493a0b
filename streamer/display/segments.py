"""Turns what a file says of a string's segments into nodes: a count, or a length at a spacing.

A length holds as many nodes as whole spacings fit in it, rounded down: what is left over carries none.
"""

from collections.abc import Iterator

from streamer.display.model import Point, Segment
from streamer.display.places import KeyPath, Locate
from streamer.display.schema import FilePort, FileSegment
from streamer.display.wording import problem_at
from streamer.errors import Problem

PLANE_Z_M = 0.0
"""Of a position written with two numbers."""
NODES_MOST = 10_000
"""Of one segment, as of one port written with `nodes`."""
CONVERSION_SHARE = 1e-6
"""So much of a spacing is forgiven: 8 ft at 3 in are 32 nodes whatever the last digit in millimetres."""
BOTH_HELP = "Take one of the two out: the nodes are worked out from the length and the spacing"


def nodes_in(length_mm: float, spacing_mm: float) -> int:
    """Return how many nodes a length holds: the first half a spacing in, then one every spacing."""
    return int(length_mm / spacing_mm + CONVERSION_SHARE)


def segments_from(port: FilePort) -> tuple[Segment, ...]:
    """Return the segments of a port in which `problems_of_segments` has found nothing."""
    return tuple(_segment_from(port, each) for each in port.segments or [FileSegment(nodes=port.nodes)])


def problems_of_segments(port: FilePort, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    """Yield what is wrong with segments whose keys are valid one by one."""
    for index, segment in enumerate(port.segments):
        here = (*path, "segments", index)
        if bool(segment.start) != bool(segment.end):
            given, missing = ("start", "end") if segment.start else ("end", "start")
            what = f"the segment has a '{given}' but no '{missing}'"
            instead = "Write both, as in start = [0, 1, 0], end = [2.6, 1, 0], or neither"
            yield problem_at(locate, (*here, given), what, instead)
        found = _wrong_with(segment, segment.spacing or port.spacing)
        if found:
            yield problem_at(locate, here, *found)


def _wrong_with(segment: FileSegment, spacing_mm: float) -> tuple[str, str] | None:
    """Return what is wrong with how many nodes a segment has, and what to write."""
    if segment.nodes and segment.length:
        return "the segment says both 'nodes' and 'length'", BOTH_HELP
    if not (segment.nodes or segment.length):
        return "the segment says neither 'nodes' nor 'length'", 'Add nodes = 36, or length = "8 ft"'
    if segment.length and not spacing_mm:
        what = "the segment has a length, but how far its nodes are apart is not said"
        return what, 'Add spacing = "3 in" to the port, or to this segment'
    return _wrong_count(segment.length, spacing_mm) if segment.length else None


def _wrong_count(length_mm: float, spacing_mm: float) -> tuple[str, str] | None:
    nodes = nodes_in(length_mm, spacing_mm)
    if 1 <= nodes <= NODES_MOST:
        return None
    what = f"the segment has {nodes} nodes: {length_mm:.9g} mm at a spacing of {spacing_mm:.9g} mm"
    if nodes:
        return what, f"Write a length that holds at most {NODES_MOST} nodes"
    return what, "Write a length of at least one spacing"


def _segment_from(port: FilePort, segment: FileSegment) -> Segment:
    spacing_mm = segment.spacing or port.spacing
    return Segment(
        nodes=segment.nodes or nodes_in(segment.length, spacing_mm),
        spacing_mm=spacing_mm or None,
        length_mm=segment.length or None,
        start=point_from(segment.start),
        end=point_from(segment.end),
    )


def point_from(numbers: list[float]) -> Point | None:
    """Return a position; without a third number it is in the plane of the house."""
    if not numbers:
        return None
    x, y, *rest = numbers
    return (x, y, rest[0] if rest else PLANE_Z_M)
