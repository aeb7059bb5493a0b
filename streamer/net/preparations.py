"""Prepares packets before their moment, and what is prepared again and again in no time.

What may change meanwhile is asked once for all: whether ways have changed, and whether hosts are warm still.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

from streamer.net.destinations import Destination
from streamer.net.hosts import NEVER_WARM, Hosts, Warm
from streamer.net.mailing import Mailing, Mailings, Rows
from streamer.net.prepared import Departure, Piece, Prepared, Sending


class _Kept(NamedTuple):
    """What was prepared last."""

    pieces: Sequence[Piece]
    departures: list[Departure]
    disturbances: int
    warm: Warm
    """The proof that runs out first; there is one for all, or these are not kept."""


class Preparations:
    """The preparations of one sender, which it is asked by: to hold on to it would be a circle."""

    def __init__(self, sendmsg: Callable[..., int], mailings: Mailings, hosts: Hosts) -> None:
        self._sendmsg, self._mailings, self._hosts = sendmsg, mailings, hosts
        self._kept: _Kept | None = None
        self._found: dict[tuple[int, int], Warm | None] = {}
        """Of this call, by the identities of rows and destinations: the proof that all are warm, if so."""

    def of(self, sender: Sending, pieces: Sequence[Piece], now_s: float) -> list[Departure]:
        """Return what sends each of these by `sender`, the hosts being as they are at `now_s`."""
        kept = self._kept
        if (
            kept
            and kept.pieces is pieces
            and kept.disturbances == sender.disturbances
            and self._hosts.is_still(kept.warm, now_s)
        ):
            return kept.departures
        self._found = {}
        departures = [self._prepared(sender, piece, now_s) for piece in pieces]
        self._kept = self._to_keep(pieces, departures, sender.disturbances, now_s)
        return departures

    def forget(self) -> None:
        """Let go of what was prepared."""
        self._kept, self._found = None, {}

    def _to_keep(
        self, pieces: Sequence[Piece], departures: list[Departure], disturbances: int, now_s: float
    ) -> _Kept | None:
        if not all(isinstance(each, Prepared) for each in departures):
            return None
        proofs = [self._mailings.of(packets, to, now_s).dispatch(rows).warm for packets, rows, to in pieces]
        return _Kept(pieces, departures, disturbances, min(proofs, default=NEVER_WARM))

    def _prepared(self, sender: Sending, piece: Piece, now_s: float) -> Departure:
        packets, rows, destinations = piece
        mailing = self._mailings.of(packets, destinations, now_s)
        dispatch = mailing.dispatch(rows)
        if not self._hosts.is_still(dispatch.warm, now_s):
            warm = self._proof(mailing, rows, destinations, now_s)
            if warm is None:
                return partial(sender.send, *piece)
            dispatch.warm = warm
        if dispatch.departure is None or dispatch.disturbances != sender.disturbances:
            try:
                dispatch.departure = Prepared(sender, self._sendmsg, mailing, dispatch, rows)
            except OSError:  # there is no such socket or zone just now: at its moment it will be told
                return partial(sender.send, *piece)
            dispatch.disturbances = sender.disturbances
        return dispatch.departure

    def _proof(
        self, mailing: Mailing, rows: Rows, destinations: Sequence[Destination], now_s: float
    ) -> Warm | None:
        """Return the proof that these rows' hosts are warm, if so: frames made ahead share rows and hosts."""
        key = id(rows), id(destinations)
        if key not in self._found:
            are_warm = self._hosts.are_warm(mailing.host_of_row[rows], now_s)
            self._found[key] = self._hosts.warm_from(now_s) if are_warm else None
        return self._found[key]
