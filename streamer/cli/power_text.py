"""The power of a plan in words: of one port, of all supplies. Numbers stay beside their units."""

from collections.abc import Iterator

from streamer.cli.common import counted
from streamer.cli.ruler import TIED, Ruler
from streamer.plan.electricity import Carried, Inject, Lowest, PortCurrent, Totals
from streamer.power.injection import NONE_SUFFICES

UNNAMED = "no port or injection names it"


def port_power(name: str, current: PortCurrent) -> Iterator[str]:
    """Yield the sentences on one port."""
    level = _percent(current.level_percent)
    yield ", ".join(_amps_of(current.full_a, current.level_a, level, current.now_a))
    if current.full_lowest and current.level_lowest and current.volts_min is not None:
        needs = f"needs {_volts(current.volts_min)}"
        at_level = f"{_lowest(current.level_lowest)} at {level}"
        yield f"lowest {_lowest(current.full_lowest)} at full white, {at_level}; {needs}"
    for feed in current.feeds:
        amps = _drawn(feed, level) if len(current.feeds) > 1 else []
        yield "; ".join([f"{_feed_place(feed, name)}: {_feed(feed)}", *amps, *_margin(feed, level)])
    if current.inject:
        yield _inject(current.inject)


def totals_power(totals: Totals, ruler: Ruler) -> Iterator[str]:
    """Yield the lines on the whole display and its supplies."""
    level = _percent(totals.level_percent)
    amps = ", ".join(_amps_of(totals.full_a, totals.level_a, level, totals.now_a))
    yield from ruler.beside("Power", amps, totals.now)
    for supply in totals.supplies:
        gives = f"{_volts(supply.volts)}, {_tied(f'{supply.rated_a:.3g} A')}: "
        drawn = "; ".join([*_drawn(supply, level), *_margin(supply, level)]) if supply.full_a else UNNAMED
        yield from ruler.beside(f"  {supply.name}", gives + drawn)
    if not totals.supplies:
        yield from ruler.beside("  supplies", "none is described: each port is taken to have what it needs")


def _amps_of(full_a: float, level_a: float, level: str, now_a: float | None) -> Iterator[str]:
    yield f"{_amps(full_a)} at full white"
    yield f"{_amps(level_a)} at {level}"
    if now_a is not None:
        yield f"{_amps(now_a)} now"


def _drawn(carrier: Carried, level: str) -> Iterator[str]:
    yield ", ".join(_amps_of(carrier.full_a, carrier.level_a, level, carrier.now_a))


def _margin(carrier: Carried, level: str) -> Iterator[str]:
    if carrier.limit_a is None or carrier.margin_a is None:
        return
    left = f"{_amps(carrier.margin_a)} left" if carrier.margin_a >= 0 else f"{_amps(-carrier.margin_a)} over"
    yield f"carries {_amps(carrier.limit_a)} for hours: {left} at {level}"


def _feed_place(feed: Carried, port: str) -> str:
    return f"fed {feed.name.removeprefix(port).strip() or 'at its beginning'}"


def _feed(feed: Carried) -> str:
    fuse = "no fuse" if feed.rated_a is None else f"fuse {_tied(f'{feed.rated_a:g} A')}"
    return f"{feed.supply or 'supply taken for granted'}, {fuse}"


def _inject(inject: Inject) -> str:
    if not inject.is_enough:
        return f"for full white {NONE_SUFFICES}; at best {_lowest_volts(inject.lowest_volts)} at the lowest"
    points = zip(inject.after, inject.leads_m, strict=True)
    told = ", ".join(f"{_tied(f'node {node}')} (lead {_tied(f'{lead:.1f} m')})" for node, lead in points)
    then = f"then {_lowest_volts(inject.lowest_volts)} at the lowest"
    what = counted(len(inject.after), "more feed")
    return f"for full white {what} by {inject.lead_wire}, after {told}: {then}"


def _lowest(lowest: Lowest) -> str:
    return f"{_lowest_volts(lowest.volts)} at {_tied(f'node {lowest.node}')}"


def _lowest_volts(volts: float) -> str:
    """To hundredths: next to nothing is 0.00 V."""
    return _tied(f"{volts:.2f} V")


def _amps(amps: float) -> str:
    return _tied(f"{amps:.2f} A")


def _volts(volts: float) -> str:
    return _tied(f"{volts:.4g} V")


def _percent(percent: float) -> str:
    return _tied(f"{percent:g} %")


def _tied(text: str) -> str:
    return text.replace(" ", TIED)
