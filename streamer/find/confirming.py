"""The last look: exactly these should be lit, yes or no. Chosen so that little else would look the same."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from patterns.plain import Bytes
from streamer.display.slots import Indices
from streamer.find.answers import (
    BLUE_CODE,
    CYAN_CODE,
    GREEN_CODE,
    NO,
    RED_CODE,
    WHITE_CODE,
    WHITE_LIGHT_CODE,
    YELLOW_CODE,
    YES,
)
from streamer.find.belief import information
from streamer.find.choice import Asked, Chooser
from streamer.find.columns import Columns
from streamer.find.look import Look
from streamer.find.questions import Asks
from streamer.find.shares import Shares

LEAST_LEADER = 0.3
"""Before one hypothesis is this likely, nothing is worth confirming."""
FORGOTTEN = 1e-6
LIKELIEST = 1500
"""Of so many it is worked out light by light what they would show. Bounds the time of a choice."""
MAINS = (
    (WHITE_CODE, RED_CODE, BLUE_CODE),
    (GREEN_CODE, RED_CODE, BLUE_CODE),
    (YELLOW_CODE, BLUE_CODE, RED_CODE),
    (CYAN_CODE, RED_CODE, BLUE_CODE),
)
"""What most lights show, the one at the place in question, and those beyond it.

Eyes that take red for green see by cyan alone whether the two have changed places.
"""
SINGLE_CODES = (RED_CODE, GREEN_CODE, BLUE_CODE, WHITE_LIGHT_CODE)
LIGHTS_ALL = sum(SINGLE_CODES)


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A look, how likely the leader is after a yes, and what the answer is expected to tell."""

    look: Look
    if_yes: float
    bits: float


def confirmation(
    chooser: Chooser, columns: Columns, shares: Shares, leader: int, asked: Asked
) -> Confirmation | None:
    """Return the look that would confirm a hypothesis best; None while it is not likely enough."""
    if shares[leader] < LEAST_LEADER:
        return None
    kept = np.union1d(_likeliest(shares), [leader])
    thin, thin_shares = columns.only(kept), shares[kept]
    # Nobody has looked what the others would say: each may say yes as well.
    unseen = float(shares.sum() - thin_shares.sum())
    at = int(np.searchsorted(kept, leader))
    found = []
    for codes in _codes_for(columns, leader, chooser.painter.lights):
        picture = chooser.painter.through(thin.taken[:, thin.wiring[at]], codes)
        sight = chooser.sight(picture, thin)
        expected = sight.looks(at)
        look = Look(picture, Asks.MATCH, expected)
        if asked.allows(look):
            says = sight.matches(expected)
            others = unseen + float(thin_shares[says == YES].sum() - thin_shares[at])
            if_yes = _if_yes(float(thin_shares[at]), others, chooser.error_rate)
            bits = information(says, thin_shares / thin_shares.sum(), chooser.error_rate, len((YES, NO)))
            found.append(Confirmation(look, if_yes, bits))
    return max(found, key=lambda each: each.if_yes, default=None)


def _likeliest(shares: Shares) -> Indices:
    kept = np.flatnonzero(shares > FORGOTTEN)
    return kept if len(kept) <= LIKELIEST else np.argpartition(-shares, LIKELIEST)[:LIKELIEST]


def _if_yes(leader: float, others_yes: float, error_rate: float) -> float:
    """Return how likely the leader is after a yes, given the shares of those that would say yes as well."""
    heard = (leader + others_yes) * (1 - error_rate) + (1 - leader - others_yes) * error_rate
    return leader * (1 - error_rate) / heard


def _codes_for(columns: Columns, leader: int, lights: int) -> Iterator[Bytes]:
    """Yield what the string is to show: its ends marked, and the place in question."""
    places = np.arange(lights)
    hung = int(columns.hung[leader])
    marked = _place_in_question(columns, leader)
    for main, mark, beyond in (*MAINS, *_with_what_is_odd(columns, leader)):
        codes = np.full(lights, main, np.uint8)
        if marked is None:
            codes[0], codes[hung - 1] = mark, beyond
        else:
            codes[marked] = mark
            codes[marked + 1 :] = beyond
        # A light past the string's end would show that it is longer.
        codes[places > hung] = 0
        yield codes


def _with_what_is_odd(columns: Columns, leader: int) -> Iterator[tuple[int, int, int]]:
    """Yield colours that show by itself what is not right about one light, at the end of a block."""
    if columns.at[leader] < 0:
        return
    lost = LIGHTS_ALL & ~int(columns.keep[leader])
    for main in dict.fromkeys((WHITE_CODE, lost if lost in SINGLE_CODES else WHITE_CODE)):
        for beyond in (RED_CODE, GREEN_CODE, BLUE_CODE):
            if beyond != main:
                yield main, main, beyond


def _place_in_question(columns: Columns, leader: int) -> int | None:
    reach, hung = int(columns.reach[leader]), int(columns.hung[leader])
    if columns.at[leader] >= 0:
        return int(columns.at[leader])
    if columns.unsteady_from[leader] < hung:
        return int(columns.unsteady_from[leader])
    return reach - 1 if 0 < reach < hung else None
