"""What is heard, in words: a table, what has changed since the last one, and a canvas to draw it on."""

import shutil
from collections.abc import Iterator, Sequence
from textwrap import wrap

import click

from streamer.cli.common import counted
from streamer.display.numbering import PROTOCOL_NAME
from streamer.hear.messages import Heard, Life, SocketHeard, SourceHeard, Standing, UniverseHeard
from streamer.hear.notes import source_text

HEAD = "  prio   fps  jitter   lost  order slots  who"
NARROW = 60
"""Columns; on fewer a source takes two lines, and has a word before each number."""
HANGING = " " * 7
UP_AND_CLEAR = "\x1b[{rows}F\x1b[J"
"""CSI CPL and ED (ECMA-48 clauses 8.3.13 and 8.3.39): back to the first row, and clear what follows."""


def table(heard: Heard, columns: int = 80) -> Iterator[str]:
    """Yield the lines of a table: each universe, its sources under it, then what should be known."""
    is_narrow = columns < NARROW
    where = heard.interface or "every interface"
    for each in heard.sockets:
        yield f"{PROTOCOL_NAME[each.protocol]} on {where}: {socket_text(each)}"
    silent = [universe.text for universe in heard.universes if not universe.sources]
    loud = [universe for universe in heard.universes if universe.sources]
    if loud and not is_narrow:
        yield HEAD
    for universe in loud:
        yield from _rows(universe, is_narrow=is_narrow)
    if silent:
        yield f"Nothing on {counted(len(silent), 'universe')} asked for: {_listed(silent)}"
    for announced in heard.announced:
        name = f"'{announced.name}' at {announced.address}"
        yield f"{name} announces {counted(len(announced.universes), 'universe')}."
    yield from heard.notes


def socket_text(each: SocketHeard) -> str:
    """Return what a socket says of itself: its datagrams, groups, buffer, and what was dropped."""
    groups = f", {each.groups} groups" if each.groups else ""
    groups += f" and {each.groups_ipv6} of IPv6" if each.groups_ipv6 else ""
    dropped = "" if each.dropped is None else f", {each.dropped} dropped here"
    return f"{each.datagrams} datagrams{groups}, buffer {each.buffer_octets // 1024} KiB{dropped}"


def _rows(universe: UniverseHeard, *, is_narrow: bool) -> Iterator[str]:
    yield universe.text + ("" if universe.is_asked else ", not asked for")
    for source in universe.sources:
        jitter = "-" if source.jitter_ms is None else f"{source.jitter_ms:.1f}ms"
        priority = "-" if source.priority is None else str(source.priority)
        if is_narrow:
            yield f"{priority:>4}  {source_text(source)}{_remarks(source)}"
            yield (
                f"{HANGING}{source.fps:.1f} fps, jitter {jitter}, {source.lost} lost, "
                f"{source.out_of_order} out of order, {source.slots} slots"
            )
            continue
        yield (
            f"{priority:>6} {source.fps:5.1f} {jitter:>7} {source.lost:6} {source.out_of_order:6} "
            f"{source.slots:5}  {source_text(source)}{_remarks(source)}"
        )


def _remarks(source: SourceHeard) -> str:
    remarks = [] if source.standing is Standing.NONE else [str(source.standing)]
    if source.life is not Life.LIVE:
        remarks.append(f"{source.life}, last seen {source.seen_s_ago:.0f} s ago")
    if source.lost_here:
        remarks.append(f"{source.lost_here} of the lost dropped here")
    if source.preview:
        remarks.append("preview")
    if source.sync_address:
        remarks.append(f"synchronized by {source.sync_address}" + _unsynchronized(source))
    others = [f"0x{code:02X}" for code in source.start_codes if code]
    if others:
        remarks.append(f"START code {', '.join(others)}")
    return f" ({'; '.join(remarks)})" if remarks else ""


def _unsynchronized(source: SourceHeard) -> str:
    return "" if source.is_synchronized else ", which is not heard"


def _listed(texts: Sequence[str], most: int = 8) -> str:
    return ", ".join(texts[:most]) + (", ..." if len(texts) > most else "")


def events(before: Heard | None, now: Heard) -> Iterator[str]:
    """Yield a line for each source that has come, gone or changed its standing, and for each new note."""
    known = _states(before) if before else {}
    for key, (text, source) in _states(now).items():
        old = known.get(key)
        state = (source.life, source.standing)
        if old is None or (old[1].life, old[1].standing) != state:
            yield f"{now.seconds:.0f} s: {text}: {source_text(source)}{_priority(source)}, {_state(source)}"
    said = set(before.notes) if before else set()
    yield from (note for note in now.notes if note not in said)


def _states(heard: Heard) -> dict[tuple[str, ...], tuple[str, SourceHeard]]:
    return {
        (universe.text, source.cid, source.address, str(source.physical)): (universe.text, source)
        for universe in heard.universes
        for source in universe.sources
    }


def _priority(source: SourceHeard) -> str:
    return "" if source.priority is None else f", priority {source.priority}"


def _state(source: SourceHeard) -> str:
    return str(source.standing if source.life is Life.LIVE else source.life)


class Canvas:
    """Lines on a terminal, drawn over those of the time before, as many as fit."""

    def __init__(self) -> None:
        self._rows = 0

    def draw(self, lines: Sequence[str], foot: Sequence[str] = ()) -> None:
        """Draw the lines, folded where they are too long, and below them the foot, which has room first."""
        columns, rows = shutil.get_terminal_size()
        folded = [part for line in lines for part in _folded(line, columns - 1)]
        room = max(1, rows - 2 - len(foot))
        fitting = folded[:room]
        if len(folded) > room:
            more = f"... and {len(folded) - room + 1} lines more; a pipe or --json shows all"
            fitting[-1] = more[: columns - 1]
        fitting = [*fitting, *(line[: columns - 1] for line in foot)][: rows - 1]
        back = UP_AND_CLEAR.format(rows=self._rows) if self._rows else ""
        click.echo(back + "\n".join(fitting))
        self._rows = len(fitting)


def _folded(line: str, columns: int) -> list[str]:
    if len(line) <= columns:
        return [line]
    return wrap(line, columns, subsequent_indent=HANGING, break_on_hyphens=False)
