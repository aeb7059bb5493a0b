"""One stream of a book as it is told: numbers from the ledger, facts from its newest header."""

import math
from collections.abc import Sequence

from streamer.hear.book import Book
from streamer.hear.messages import Life, SourceHeard, Standing
from streamer.hear.standing import Claim
from streamer.hear.streams import Stream
from streamer.net.arrivals import destination_text
from streamer.net.destinations import is_ipv6
from streamer.wire.e131 import DATA_LOSS_TIMEOUT_S, START_CODE_LEVELS

MS_PER_S = 1000


def life(book: Book, stream: Stream, now: float) -> Life:
    """Say whether a stream's source is there."""
    if book.ledger.is_terminated[stream.row]:
        return Life.TERMINATED
    is_lost = now - book.ledger.seen_s[stream.row] >= DATA_LOSS_TIMEOUT_S
    return Life.TIMED_OUT if is_lost else Life.LIVE


def claims(book: Book, streams: Sequence[Stream], now: float) -> list[Claim]:
    """Return what each stream claims of its universe; None where its levels do not count."""
    return [_claim(book, stream, now) for stream in streams]


def names(streams: Sequence[Stream]) -> list[str]:
    """Return a name for each stream, the same for one CID that sends by both IP versions.

    The CID alone is the source (E1.31-2018 clause 5.6); at two addresses of one version it is a fault.
    """
    first_of = {(stream.who.cid, is_ipv6(stream.who.address)): stream.who for stream in reversed(streams)}

    def name(stream: Stream) -> str:
        who = stream.who
        is_first = first_of[who.cid, is_ipv6(who.address)] == who
        return who.cid if who.cid and is_first else f"{who.cid} {who.address} {who.physical}"

    return [name(stream) for stream in streams]


def _claim(book: Book, stream: Stream, now: float) -> Claim:
    facts = book.streams.facts_of(stream)
    is_silent = facts.is_preview or START_CODE_LEVELS not in stream.start_codes
    if is_silent or life(book, stream, now) is not Life.LIVE:
        return None
    return facts.priority or 0


def source_heard(book: Book, stream: Stream, standing: Standing, now: float) -> SourceHeard:
    """Return all that is known of a stream."""
    ledger, row, facts = book.ledger, stream.row, book.streams.facts_of(stream)
    return SourceHeard.model_construct(
        name=facts.name,
        cid=stream.who.cid,
        address=stream.who.address,
        physical=stream.who.physical,
        sent_to=destination_text(ledger.sent_to[row]),
        priority=facts.priority,
        standing=standing,
        life=life(book, stream, now),
        fps=float(ledger.fps[row]),
        jitter_ms=_ms(float(ledger.jitter_s[row])),
        gap_ms=_ms(float(ledger.gap_s[row])),
        packets=int(ledger.packets[row]),
        lost=int(ledger.lost[row]),
        lost_here=int(ledger.lost_here[row]),
        out_of_order=int(ledger.out_of_order[row]),
        slots=facts.slots,
        start_codes=tuple(sorted(stream.start_codes)),
        preview=facts.is_preview,
        sync_address=facts.sync_address,
        is_synchronized=book.announcements.is_synchronized(facts.sync_address, now),
        seen_s_ago=max(now - float(ledger.seen_s[row]), 0.0),
    )


def _ms(seconds: float) -> float | None:
    return None if math.isnan(seconds) else seconds * MS_PER_S
