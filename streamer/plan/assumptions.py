"""What a plan takes for granted where the display file does not say it, a sentence each."""

from collections.abc import Iterator

from streamer.display.model import Addressing, Display, Port, Protocol, Segment
from streamer.display.segments import CONVERSION_SHARE
from streamer.plan.findings import places_text


def assumptions_of(display: Display) -> Iterator[str]:
    """Yield the sentences."""
    unnamed = [port.name for port in display.ports if not port.chip]
    if unnamed:
        yield (
            f"No chip is named for {places_text(unnamed)}: 800 kHz, 8 bits a colour and 0.3 ms "
            'of reset are taken. Write, for example: chip = "WS2811".'
        )
    for port in display.ports:
        yield from _left_over(port)
    yield (
        "Every universe changes in every frame: the most there can be. A still picture takes one packet for "
        "each universe in 0.9 s."
    )
    if any(controller.protocol is Protocol.ARTNET for controller in display.controllers):
        yield "Absolute channels of Art-Net count from Port-Address 0, which has 1 to 512; software differs."
    if any(controller.addressing is Addressing.ALIGNED for controller in display.controllers):
        yield (
            "Absolute channels count all 512 slots of a universe, those too that whole nodes leave free at "
            "its end."
        )
    if any(controller.sync_address or controller.art_sync for controller in display.controllers):
        yield "Synchronization and discovery leave by one interface, and ArtSync reaches one network."


def _left_over(port: Port) -> Iterator[str]:
    for number, segment in enumerate(port.segments, 1):
        rest_mm = _rest_mm(segment)
        if rest_mm:
            yield (
                f"{port.name}, segment {number}: {segment.length_mm:.6g} mm at {segment.spacing_mm:.6g} mm "
                f"hold {segment.nodes} nodes, rounded down; {rest_mm:.3g} mm are left over."
            )


def _rest_mm(segment: Segment) -> float:
    """Return what whole spacings leave of a length; 0.0 where none was written or it comes out even."""
    if segment.length_mm is None or segment.spacing_mm is None:
        return 0.0
    rest_mm = segment.length_mm - segment.nodes * segment.spacing_mm
    return rest_mm if rest_mm > CONVERSION_SHARE * segment.spacing_mm else 0.0
