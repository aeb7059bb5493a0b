"""What is heard in rows and words, for any width."""

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from streamer.display.model import Protocol
from tui.plain import shown
from tui.tables import Column

if TYPE_CHECKING:
    from streamer.hear.messages import Heard, SourceHeard, UniverseHeard

WHO_CELLS = 12
SILENT = "silent"
OURS = "(ours)"
BY = {Protocol.E131: "E1.31", Protocol.ARTNET: "Art-Net"}


class Row(NamedTuple):
    """A source of a universe, or a universe without any."""

    universe: "UniverseHeard"
    source: "SourceHeard | None"

    @property
    def key(self) -> tuple[object, ...]:
        """What stays the same while its figures change."""
        whose = (self.source.cid, self.source.address, self.source.physical) if self.source else ()
        return (self.universe.protocol, self.universe.universe, *whose)


def rows_of(heard: "Heard") -> Iterator[Row]:
    """Yield the rows: universes by number, in each those that win first."""
    for universe in heard.universes:
        if universe.sources:
            yield from (Row(universe, source) for source in universe.sources)
        else:
            yield Row(universe, None)


def number_text(universe: "UniverseHeard") -> str:
    """Return a universe in few cells: an Art-Net one as Net:Sub-Net:Universe."""
    if universe.protocol is Protocol.E131:
        return str(universe.universe)
    return universe.text.rpartition("(")[2].rstrip(")")


def standing_text(source: "SourceHeard | None") -> str:
    """Return what becomes of a source in a word or two."""
    if source is None:
        return SILENT
    if source.life != "live":
        return str(source.life)
    if source.preview:
        return "preview"
    return "no levels" if source.standing == "none" else str(source.standing)


def columns(rows: Sequence[Row], cid: str) -> Iterator[Column]:
    """Yield the columns, of which those of the highest rank leave first; `cid` is ours."""
    sources = [row.source for row in rows]

    def cells(tell: "Callable[[SourceHeard], str]") -> tuple[str, ...]:
        return tuple("" if each is None else tell(each) for each in sources)

    yield Column("univ", 0, tuple(number_text(row.universe) for row in rows))
    yield Column("who", 1, cells(lambda each: _name(each, cid)), is_text=True, text_cells=WHO_CELLS)
    yield Column("prio", 3, cells(lambda each: "-" if each.priority is None else str(each.priority)))
    yield Column("state", 2, tuple(standing_text(each) for each in sources))
    yield Column("fps", 4, cells(lambda each: f"{each.fps:.1f}"))
    yield Column("lost", 5, cells(lambda each: str(each.lost)))
    yield Column("order", 7, cells(lambda each: str(each.out_of_order)))
    yield Column("jitter", 8, cells(lambda each: "-" if each.jitter_ms is None else f"{each.jitter_ms:.1f}"))
    yield Column("address", 6, cells(lambda each: each.address))
    yield Column("slots", 9, cells(lambda each: str(each.slots)))
    yield Column("seen", 10, cells(lambda each: f"{each.seen_s_ago:.1f}s"))
    yield Column("codes", 11, cells(lambda each: codes_text(each.start_codes)))
    yield Column("sync", 12, cells(lambda each: str(each.sync_address or "-")))
    yield Column("sent to", 13, cells(lambda each: each.sent_to or "-"))
    yield Column("by", 14, tuple(BY[row.universe.protocol] for row in rows))


def _name(source: "SourceHeard", cid: str) -> str:
    name = source.name or source.address
    return f"{OURS} {name}" if cid and source.cid == cid else name


def codes_text(codes: Sequence[int]) -> str:
    """Return START codes as the standards write them."""
    return " ".join(f"{code:02X}" for code in codes)


def detail(row: Row, *, is_short: bool = False) -> Iterator[str]:
    """Yield all that is known of a row, a line for each matter; in short only what matters most."""
    universe, source = row
    asked = "" if universe.is_asked else ", not asked for"
    if source is None:
        yield f"{universe.text}{asked}: nobody sends it that this machine can hear."
        return
    name = f"'{shown(source.name)}' at " if source.name else ""
    to = f", to {source.sent_to}" if source.sent_to else ""
    yield f"{universe.text}{asked}: {name}{source.address}{to}"
    if not is_short:
        yield f"CID {source.cid}" if source.cid else f"physical input {source.physical}"
    priority = "" if source.priority is None else f"priority {source.priority}, "
    yield f"{priority}{standing_text(source)}; last seen {source.seen_s_ago:.1f} s ago"
    yield f"{source.fps:.1f} frames/s{_times(source)}"
    here = f" ({source.lost_here} dropped here)" if source.lost_here else ""
    yield f"{source.packets} packets, {source.lost} lost{here}, {source.out_of_order} out of order"
    if is_short:
        return
    sync = "not synchronized"
    if source.sync_address:
        heard = "" if source.is_synchronized else ", which is not heard"
        sync = f"synchronized by {source.sync_address}{heard}"
    preview = "preview" if source.preview else "no preview"
    yield f"{source.slots} slots, START codes {codes_text(source.start_codes)}; {preview}; {sync}"


def _times(source: "SourceHeard") -> str:
    jitter = "" if source.jitter_ms is None else f", jitter {source.jitter_ms:.1f} ms"
    return jitter + ("" if source.gap_ms is None else f", longest gap {source.gap_ms:.0f} ms")
