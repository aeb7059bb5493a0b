"""What supplies, kinds of nodes and injections of a display must keep to. Nothing is computed from them."""

import difflib
from collections.abc import Iterable, Iterator

from streamer.display.electrics import Injection, NodeKind
from streamer.display.model import Display, Port
from streamer.display.node_kinds import BUILT_IN, BUILT_IN_NAMES, node_kind_of
from streamer.display.places import KeyPath, Locate, plain, shown
from streamer.display.wording import problem_at
from streamer.errors import Problem

VOLTS_APART_SHARE = 0.2
"""A supply may be trimmed, a battery full: 13.8 V for 12 V nodes. Further apart is the wrong supply."""
COMPARED = 20
"""An unknown name is compared with no more than these: a hostile file has thousands."""


def check_power(display: Display, locate: Locate) -> Iterator[Problem]:
    """Yield everything wrong with what feeds a display; `locate` gives the place of a key path in it."""
    yield from _repeated([supply.name for supply in display.supplies], "supplies", locate)
    yield from _repeated([kind.name for kind in display.node_kinds], "node_kinds", locate)
    for index, kind in enumerate(display.node_kinds):
        yield from _kind(kind, ("node_kinds", index), locate)
    for i, controller in enumerate(display.controllers):
        for j, port in enumerate(controller.ports):
            yield from _port(display, port, ("controllers", i, "ports", j), locate)


def _repeated(names: list[str], table: str, locate: Locate) -> Iterator[Problem]:
    seen: set[str] = set()
    for index, name in enumerate(names):
        if name.casefold() in seen:
            what = f"two {table.replace('_', ' ')} have the name {shown(name)}"
            yield problem_at(locate, (table, index, "name"), what, "Give each a name of its own")
        seen.add(name.casefold())


def _kind(kind: NodeKind, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    if kind.name in BUILT_IN_NAMES:
        what = f"{shown(kind.name)} is the name of a built-in kind"
        yield problem_at(locate, (*path, "name"), what, "Give yours a name of its own")
    if kind.volts_min > kind.volts:
        what = f"volts_min is {kind.volts_min:g}, above volts, which is {kind.volts:g}"
        instead = f"Write a lower one, for example: volts_min = {kind.volts * (1 - VOLTS_APART_SHARE):g}"
        yield problem_at(locate, (*path, "volts_min"), what, instead)


def _port(display: Display, port: Port, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    kinds = [kind.name for kind in (*display.node_kinds, *BUILT_IN)]
    yield from _unknown(port.node_kind, kinds, "node_kind", path, locate)
    yield from _supply(display, port, port.supply, path, locate)
    kind = node_kind_of(display, port)
    if kind and len(kind.full_ma) < len(port.colour_order):
        has = f"{plain(kind.name)} has {len(kind.full_ma)} numbers in full_ma"
        what = f"{has}, but the string is {port.colour_order}"
        yield problem_at(locate, (*path, "node_kind"), what, "Add the fourth, for white, to its full_ma")
    for index, injection in enumerate(port.injections):
        here = (*path, "injections", index)
        yield from _supply(display, port, injection.supply, here, locate)
        yield from _injection(port, injection, here, locate)


def _injection(port: Port, injection: Injection, path: KeyPath, locate: Locate) -> Iterator[Problem]:
    if injection.after > port.nodes:
        what = f"after is {injection.after}, but the string has {port.nodes} nodes"
        instead = f"Count from the end where data and power enter: after = 1 to {port.nodes}"
        yield problem_at(locate, (*path, "after"), what, instead)
    if injection.after == port.nodes and injection.is_positive_cut:
        what = "the positive is cut after the last node, where nothing follows"
        instead = "Take 'positive_cut' out, or inject after an earlier node"
        yield problem_at(locate, (*path, "positive_cut"), what, instead)


def _supply(
    display: Display, port: Port, name: str | None, path: KeyPath, locate: Locate
) -> Iterator[Problem]:
    yield from _unknown(name, [supply.name for supply in display.supplies], "supply", path, locate)
    kind = node_kind_of(display, port)
    supply = next((each for each in display.supplies if each.name == name), None)
    if kind and supply and abs(supply.volts - kind.volts) > VOLTS_APART_SHARE * kind.volts:
        gives = f"{plain(supply.name)} gives {supply.volts:g} V"
        what = f"{gives}, but {plain(kind.name)} nodes are for {kind.volts:g} V"
        instead = "Name another supply or node_kind; the wrong voltage destroys nodes"
        yield problem_at(locate, (*path, "supply"), what, instead)


def _unknown(
    name: str | None, known: Iterable[str], key: str, path: KeyPath, locate: Locate
) -> Iterator[Problem]:
    if name is None or name in (names := list(known)):
        return
    what = f"there is no {key.replace('_', ' ')} {shown(name)}"
    close = difflib.get_close_matches(name, names[:COMPARED], n=1, cutoff=0.5)
    if close:
        instead = f"Did you mean {shown(close[0])}?"
    elif key == "supply":
        instead = "Describe it in [[supplies]], or take 'supply' out: it is assumed then"
    else:
        instead = f"Describe it in [[node_kinds]], or write one of {', '.join(map(shown, names))}"
    yield problem_at(locate, (*path, key), what, instead)
