"""Which of a universe's sources win: ANSI E1.31-2018 clause 6.2.3, and Art-Net's merging."""

from collections.abc import Sequence

from streamer.hear.messages import Standing

Claim = int | None
"""A source's priority, 0 where the protocol has none; None when its levels do not count."""


def standings(claims: Sequence[Claim], of_whom: Sequence[str] = ()) -> tuple[Standing, ...]:
    """Return what becomes of each source's levels beside the others.

    Only those of the highest priority count; what a receiver makes of several such is its maker's choice.
    `of_whom` names each: claims of one and the same, as by both IP versions, do not share with themselves.
    """
    priorities = [claim for claim in claims if claim is not None]
    highest = max(priorities, default=0)
    names = of_whom or [str(number) for number in range(len(claims))]
    highest_ones = {name for name, claim in zip(names, claims, strict=True) if claim == highest}
    alone = Standing.SHARES if len(highest_ones) > 1 else Standing.WINS

    def standing(claim: Claim) -> Standing:
        if claim is None:
            return Standing.NONE
        return alone if claim == highest else Standing.OUTRANKED

    return tuple(map(standing, claims))
