"""What is wrong or worth a word in a display's power: fuses, supplies, wires, voltages.

It informs; local codes and licensed people decide.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from streamer.display.electrics import Supply, Wire
from streamer.display.places import plain
from streamer.power.basis import Basis, Feed
from streamer.power.copper import area_mm2
from streamer.power.loads import Load, Loads
from streamer.power.margins import fuse_limit_a, supply_limit_a

CLASS_2_VA = 100.0
"""NEC chapter 9 table 11(B): the most that a Class 2 supply gives; above it a short can burn."""
WET_VOLTS = 30.0
"""The same table: the most continuous direct voltage where wet contact is likely."""
BACK_A = 1e-3
"""Less than this flows back into a supply by rounding alone."""
DEFER = "follow your local code; mains work is for a licensed person"
FUSES_A = ((22, 3.0), (20, 5.0), (18, 7.0), (16, 10.0), (14, 15.0), (12, 20.0), (10, 30.0))
"""The largest fuse before a wire of each gauge: NEC 240.4(D) from 18 AWG on, from memory; thinner ones by
common practice, no source."""
AREA_SLACK = 0.1
"""0.75 mm2 is sold for 18 AWG (0.82 mm2), 0.5 mm2 for 20 AWG."""


class Weight(StrEnum):
    """How much a finding matters."""

    OVER = "over"
    """At the present level something is not as it should be."""
    CAUTION = "caution"
    """At full white it would not be, or it deserves a look."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing about the power of a display."""

    weight: Weight
    place: str
    """A port, a feed or a supply by its name."""
    what: str
    instead: str


def largest_fuse_a(wire: Wire) -> float | None:
    """Return the largest fuse that may stand before a wire; None for one thinner than any in the table."""
    fitting = [amps for awg, amps in FUSES_A if area_mm2(wire) >= area_mm2(Wire(awg=awg)) * (1 - AREA_SLACK)]
    return max(fitting, default=None)


def findings(loads: Loads, level: Load, white: Load) -> Iterator[Finding]:
    """Yield what there is to say of a display, port by port, then supply by supply."""
    for row, basis in enumerate(loads.bases):
        yield from _voltage(basis, level, white, row)
        for nth, feed in enumerate(basis.feeds):
            yield from _fuse(feed, level.ports[row].feed_a[nth], white.ports[row].feed_a[nth])
            yield from _wires(basis, feed)
    for row, supply in enumerate(loads.display.supplies):
        yield from _supply(supply, level.supply_a[row], white.supply_a[row])
        yield from _class_2(supply, loads.bases)
    if not (level.is_settled and white.is_settled):
        what = "regulated nodes ask for more than the copper can bring, and no steady state was found"
        yield Finding(Weight.CAUTION, plain(loads.display.name), what, "Use thicker wire or more feeds")


def _voltage(basis: Basis, level: Load, white: Load, row: int) -> Iterator[Finding]:
    for weight, load, when in (
        (Weight.OVER, level, "at this level"),
        (Weight.CAUTION, white, "at full white"),
    ):
        port = load.ports[row]
        if port.lowest_volts < basis.kind.volts_min:
            needs = f"less than the {basis.kind.volts_min:g} V that it needs"
            what = f"{when} node {port.lowest_node} gets {port.lowest_volts:.2f} V, {needs}"
            yield Finding(weight, plain(basis.port.name), what, "Inject power, use thicker wire, or dim")
            return


def _fuse(feed: Feed, level_a: float, white_a: float) -> Iterator[Finding]:
    limit_a = fuse_limit_a(feed.fuse_a)
    yield from _over(feed.name, f"its {feed.fuse_a or 0:g} A fuse", limit_a, level_a, white_a)
    if white_a < -BACK_A:
        what = f"at full white {-white_a:.2f} A flow back into its supply"
        instead = (
            "Cut the positive between the two supplies (positive_cut = true), or set them to one voltage"
        )
        yield Finding(Weight.CAUTION, plain(feed.name), what, instead)


def _supply(supply: Supply, level_a: float, white_a: float) -> Iterator[Finding]:
    yield from _over(supply.name, "it", supply_limit_a(supply), level_a, white_a)
    if supply.volts > WET_VOLTS:
        most = f"the {WET_VOLTS:g} V for wet places (NEC chapter 9 table 11(B))"
        what = f"it gives {supply.volts:g} V, above {most}"
        yield Finding(Weight.CAUTION, plain(supply.name), what, f"Ask before you hang it outdoors: {DEFER}")


def _over(name: str, carrier: str, limit_a: float, level_a: float, white_a: float) -> Iterator[Finding]:
    for weight, amps, when in (
        (Weight.OVER, level_a, "at this level"),
        (Weight.CAUTION, white_a, "at full white"),
    ):
        if amps > limit_a:
            what = f"{when} {amps:.2f} A are asked, but {carrier} carries {limit_a:.2f} A for hours"
            instead = "The engine dims it to that; to have it brighter, spread the nodes over more feeds"
            yield Finding(weight, plain(name), what, instead)
            return


def _wires(basis: Basis, feed: Feed) -> Iterator[Finding]:
    if feed.fuse_a is None:
        return
    thinnest = min((feed.wire, basis.wire), key=area_mm2)
    most_a = largest_fuse_a(thinnest)
    if most_a is None or feed.fuse_a > most_a:
        fits = "no fuse is known to protect it" if most_a is None else f"{most_a:g} A at most"
        large = f"the {feed.fuse_a:g} A fuse is large for the {thinnest.text} wire after it"
        what = f"{large}: {fits} (NEC 240.4(D))"
        instead = f"A fuse protects the thinnest wire after it: fit a smaller one; {DEFER}"
        yield Finding(Weight.CAUTION, plain(feed.name), what, instead)


def _class_2(supply: Supply, bases: tuple[Basis, ...]) -> Iterator[Finding]:
    bare = [
        feed.name for basis in bases for feed in basis.feeds if feed.supply == supply.name and not feed.fuse_a
    ]
    if bare and supply.volts * supply.amps > CLASS_2_VA:
        what = f"it gives more than {CLASS_2_VA:g} VA, and {plain(bare[0])} has no fuse of its own"
        more = f" (nor have {len(bare) - 1} others)" if len(bare) > 1 else ""
        instead = f"Fuse each run: a short would heat its wire (NEC chapter 9 table 11(B)); {DEFER}"
        yield Finding(Weight.CAUTION, plain(supply.name), what + more, instead)
