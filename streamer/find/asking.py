"""A look in words: what is sent, and the question, for a person who stands on a lawn at night."""

from itertools import groupby

import numpy as np

from patterns.colours import FULL
from patterns.plain import COMPONENTS, Bytes
from streamer.display.model import Display
from streamer.find.answers import CODE_OF, DARK_CODE, Answer, Eyes
from streamer.find.finding import Finding
from streamer.find.look import Look
from streamer.find.questions import YES_OR_NO, Asks
from streamer.find.rows import Thinking
from streamer.find.telling import named

PIECES = 7
"""More pieces than this are not told one by one, and nobody is asked to count more."""

QUESTIONS = {
    Asks.FIRST: "What colour is the first lit node, from node 1 on?",
    Asks.LAST: "What colour is the last lit node, from node 1 on?",
    Asks.HEAD: "What colour is node 1, {head}?",
    Asks.TAIL: "What colour is the very last node, {tail}?",
    Asks.BESIDE: "Does exactly one node stand out from those beside it: dark, or another colour? Then say "
    "the colour of the node before it, on the side of node 1 (of the other side, if none is lit there).",
    Asks.FLICKER: "What colour is the first node that flickers, {feed}?",
    Asks.REST: "Do more nodes hang there, unlit, beyond the lit ones, {away}?",
    Asks.WITNESS: "Look at {beside}: what colour is its first lit node?",
    Asks.MATCH: "From node 1 on, do you see exactly this: {expected}?",
}
UNCOLOURED = {
    Asks.FIRST: "Is anything lit on this string?",
    Asks.LAST: "Is anything lit on this string? Look at the last lit node.",
    Asks.HEAD: "Is node 1 lit, {head}?",
    Asks.TAIL: "Is the very last node lit, {tail}?",
    Asks.BESIDE: "Is exactly one node dark among the lit ones? Then say lit.",
    Asks.FLICKER: "Does any node flicker? Then say lit.",
    Asks.WITNESS: "Look at {beside}: is anything lit there?",
}
"""For eyes that are asked for no colours."""
HEADLINES = {
    Asks.FIRST: "First lit",
    Asks.LAST: "Last lit",
    Asks.HEAD: "Node 1",
    Asks.TAIL: "Very last",
    Asks.BESIDE: "Odd one",
    Asks.FLICKER: "Flicker",
    Asks.REST: "More unlit",
    Asks.WITNESS: "Other string",
    Asks.MATCH: "Exactly",
}
"""What to look at, in few enough letters to be read at arm's length."""


def question_of(finding: Finding) -> str:
    """Return the question of the current look; empty when the search is over."""
    look = finding.look
    return asked(look, finding.bench.thinking, finding.bench.terms.eyes) if look else ""


def headline_of(finding: Finding) -> str:
    """Return what to look at now, in a word or two; empty when the search is over."""
    return HEADLINES[finding.look.asks] if finding.look else ""


def asked(look: Look, thinking: Thinking, eyes: Eyes) -> str:
    """Return the question of a look."""
    text = QUESTIONS[look.asks] if eyes.in_colour else UNCOLOURED.get(look.asks, QUESTIONS[look.asks])
    near, far = "where the data comes in", "at the far end"
    reversed_ = thinking.port.reversed
    return text.format(
        head=far if reversed_ else near,
        tail=near if reversed_ else far,
        feed="from where the data comes in",
        away="away from where the data comes in",
        beside=_beside(thinking.display, thinking),
        expected="" if look.expected is None else expected_words(look.expected, eyes),
    )


def _beside(display: Display, thinking: Thinking) -> str:
    return named(display, thinking.witness.name) if thinking.witness else ""


def expected_words(expected: Bytes, eyes: Eyes) -> str:
    """Return what should be seen, run by run: "white, one red, then nothing"."""
    runs = [(value, sum(1 for _ in run)) for value, run in groupby(expected.tolist())]
    while runs and runs[-1][0] == Answer.NONE:
        runs.pop()
    if not runs:
        return "nothing at all"
    return f"{_listed(runs, eyes)}, then nothing"


def _listed(runs: list[tuple[int, int]], eyes: Eyes) -> str:
    words = [_run_words(value, count, eyes) for value, count in runs]
    if len(words) > PIECES:
        words = [*words[: PIECES - 1], "and so on"]
    return ", ".join(words)


def _run_words(value: int, count: int, eyes: Eyes) -> str:
    if value == Answer.NONE:
        return "one dark" if count == 1 else "dark"
    colour = "flickering" if value == Answer.UNSTEADY else eyes.words[Answer(value)]
    return f"one {colour}" if count == 1 else colour


def shown_words(finding: Finding) -> str:
    """Return what is sent to this string now, node by node as people count, and what else is lit."""
    look, bench = finding.look, finding.bench
    if look is None:
        return ""
    codes = sent_codes(finding)
    lit = np.flatnonzero(codes)
    pieces, place = [], 1
    for code, run in groupby(codes.tolist()):
        count = sum(1 for _ in run)
        if code != DARK_CODE:
            where = f"node {place}" if count == 1 else f"nodes {place} to {place + count - 1}"
            pieces.append(f"{where} {bench.terms.eyes.named(code)}")
        place += count
    if not len(lit):
        told = "This string is sent nothing"
    elif len(pieces) > PIECES:
        told = f"Nodes {lit[0] + 1} to {lit[-1] + 1} are sent many colours"
    else:
        told = f"Sent: {', '.join(pieces)}"
    return f"{told}; {look.picture.elsewhere}." if look.picture.elsewhere else f"{told}."


def sent_codes(finding: Finding) -> Bytes:
    """Return the code that each node is sent, in hanging order, those lit past the plan last."""
    look, port = finding.look, finding.bench.thinking.port
    if look is None:
        return np.zeros(0, np.uint8)
    codes = look.picture.codes
    hung = np.concatenate([codes[: port.nodes][::-1], codes[port.nodes :]]) if port.reversed else codes
    last = np.flatnonzero(hung)
    return hung[: max(port.nodes, int(last[-1]) + 1 if len(last) else 0)]


def lights_of(codes: Bytes) -> Bytes:
    """Return what nodes of these codes are sent at full level, (N, 4)."""
    bits = codes[:, None] >> np.arange(COMPONENTS, dtype=np.uint8) & 1
    return np.asarray(bits * FULL, np.uint8)


def colours_of(finding: Finding) -> dict[Answer, Bytes]:
    """Return the answers to the current look that are a colour, and a light of each, (4,)."""
    if finding.look is None or finding.look.asks in YES_OR_NO:
        return {}
    known = [each.answer for each in finding.choices if each.answer in CODE_OF]
    return dict(zip(known, lights_of(np.array([CODE_OF[each] for each in known], np.uint8)), strict=True))
