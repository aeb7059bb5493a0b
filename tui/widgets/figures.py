"""The figures of a run, from the status alone: what went and how, what was late, what is wrong now."""

from collections.abc import Iterator

from textual.content import Content

from streamer.engine.messages import LatenessBin, Status
from tui.plain import shown
from tui.widgets.told import Told

US_PER_MS = 1000
OCTETS_PER_MB = 1_000_000
PERCENT = 100
BAR = "█"
LABEL_CELLS = 13
"""Of a bin: "under 0.05 ms"; and of the longest heading."""
COUNT_CELLS = 11
BAR_CELLS_MOST = 40
ADDRESSES_SHOWN = 6


class Figures(Told):
    """Lines that wrap where the screen is narrow, and the histogram of lateness."""

    def tell(self) -> Content:
        """Return the lines."""
        status = self.talk.status
        wrong = [Content.styled(f"! {shown(each)}", "$error bold") for each in status.complaints]
        if not self.talk.is_playing:
            return Content("\n").join([*wrong, Content("Nothing is sent now.")])
        lines = [
            Content.assemble((f"{name}: ", "bold $accent"), shown(text))
            for name, text in _lines(status)
            if text
        ]
        bins = [Content.styled(line, "$quiet") for line in self._histogram(status.lateness.bins)]
        return Content("\n").join([*wrong, *lines, *bins])

    def _histogram(self, bins: tuple[LatenessBin, ...]) -> Iterator[str]:
        """Yield a bar for each bin from the first to the last that holds a frame."""
        held = [number for number, each in enumerate(bins) if each.frames]
        most = max((each.frames for each in bins), default=0)
        room = max(1, min(BAR_CELLS_MOST, self.size.width - LABEL_CELLS - COUNT_CELLS - 2))
        for number, each in enumerate(bins):
            if held and held[0] <= number <= held[-1]:
                bar = BAR * round(room * each.frames / most) or ("▏" if each.frames else "")
                yield f"{_bin_name(bins, number):>{LABEL_CELLS}} {bar:<{room}}{each.frames:>{COUNT_CELLS},}"


def _lines(status: Status) -> Iterator[tuple[str, str]]:
    counts, late = status.counts, status.lateness
    a_second = counts.packets / status.seconds if status.seconds else 0.0
    sizes = f"{counts.octets / OCTETS_PER_MB:,.1f} MB"
    yield "sent", f"{counts.frames:,} frames, {counts.packets:,} packets ({a_second:,.0f} a second), {sizes}"
    yield "refused", _errors(status)
    yield (
        "frames",
        f"{counts.late:,} late, {counts.skipped:,} skipped; {counts.held:,} held, or they would have flashed",
    )
    yield "flashes", f"at most {status.flashes_per_s} of any light in a second"
    yield "dimmed", ", ".join(each.words for each in status.dimmed)
    parts = {"half under": late.p50_us, "90 %": late.p90_us, "99 %": late.p99_us, "99.9 %": late.p999_us}
    within = ", ".join(f"{part} {us / US_PER_MS:.2f}" for part, us in parts.items())
    yield "lateness", f"{within}, worst {late.max_us / US_PER_MS:.2f} ms"
    yield "processor", f"{status.cpu_share * PERCENT:.1f} % of one core, {status.scheduling}"
    yield "leaves by", status.route
    for way, addresses in _by_way(status).items():
        more = f" and {len(addresses) - ADDRESSES_SHOWN} more" if len(addresses) > ADDRESSES_SHOWN else ""
        yield "way", f"{way} to {', '.join(addresses[:ADDRESSES_SHOWN])}{more}"
    if status.synchronization:
        yield "synchronized", f"{counts.synchronizations:,} packets: {status.synchronization}"


def _errors(status: Status) -> str:
    errors = status.counts.errors
    return ", ".join(f"{count:,} by {name}" for name, count in errors.items()) or "none"


def _by_way(status: Status) -> dict[str, list[str]]:
    ways: dict[str, list[str]] = {}
    for address, way in status.ways.items():
        ways.setdefault(way, []).append(address)
    return ways


def _bin_name(bins: tuple[LatenessBin, ...], number: int) -> str:
    up_to_us = bins[number].up_to_us
    if up_to_us is not None:
        return f"to {up_to_us / US_PER_MS:g} ms"
    below_us = bins[number - 1].up_to_us or 0.0
    return f"over {below_us / US_PER_MS:g} ms"
