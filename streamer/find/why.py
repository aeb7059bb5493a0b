"""Show me why: what every answer left, and how the answers to the look would part what is left."""

import numpy as np

from streamer.find.answers import ANSWERS, Answer
from streamer.find.asking import asked
from streamer.find.belief import posterior
from streamer.find.finding import Finding
from streamer.find.kinds import Kind
from streamer.find.questions import choices_of
from streamer.find.shares import Shares, added_up
from streamer.find.telling import Teller

KINDS_TOLD = 3
LEAST_TOLD = 0.02
PERCENT = 100


def why(finding: Finding) -> tuple[str, ...]:
    """Return the reasons as lines, the answers in their order and last what is asked now and to what end."""
    return (*_answers(finding), *_now(finding))


def _answers(finding: Finding) -> tuple[str, ...]:
    bench = finding.bench
    lines = [f"Before any answer: {_kinds(finding, bench.table.prior)}."]
    likelihoods: list[Shares] = []
    for number, step in enumerate(finding.steps, 1):
        if step.likelihood is not None:
            likelihoods.append(step.likelihood)
        words = {each.answer: each.words for each in choices_of(step.look.asks, bench.terms.eyes)}
        question = asked(step.look, bench.thinking, bench.terms.eyes)
        left = _kinds(finding, posterior(bench.table.prior, likelihoods))
        lines.append(f"{number}. {question} {words[step.answer]}. Then: {left}.")
    return tuple(lines)


def _kinds(finding: Finding, shares: Shares) -> str:
    """Return the likeliest kinds, and how many of each are still in question."""
    found: dict[Kind, float] = {}
    for row, share in zip(finding.bench.table.rows, shares.tolist(), strict=True):
        found[row.kind] = found.get(row.kind, 0.0) + share
    likeliest = sorted(found.items(), key=lambda each: -each[1])[:KINDS_TOLD]
    told = [f"{kind} {share * PERCENT:.0f} %" for kind, share in likeliest if share >= LEAST_TOLD]
    return ", ".join(told) or "everything"


def _now(finding: Finding) -> tuple[str, ...]:
    bench, look = finding.bench, finding.look
    thinking = bench.thinking
    teller = Teller(thinking)
    if look is None:
        return (f"So: {teller.sentence(finding.possibilities()[0].row)}",)
    predicted = bench.chooser.predicted(look, bench.table.columns)
    mass = added_up(predicted, finding.shares, ANSWERS)
    lines = [f"This look is expected to tell {finding.bits:.1f} bits. If you say:"]
    for choice in choices_of(look.asks, bench.terms.eyes):
        share = float(mass[choice.answer])
        if choice.answer is not Answer.CANT_TELL and share >= LEAST_TOLD:
            mine = np.where(predicted == choice.answer, finding.shares, 0.0)
            likeliest = teller.sentence(bench.table.rows[int(mine.argmax())])
            lines.append(f"  {choice.words} ({share * PERCENT:.0f} %): most likely: {likeliest}")
    return tuple(lines)
