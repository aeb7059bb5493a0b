"""From picture to picture in short: which lights change, without a look at all of them."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from patterns.plain import Bytes, Frame, Lit
from streamer.display.slots import Indices
from streamer.engine.changes import Words
from streamer.engine.difference import FEW_SHARE, either, words_of


class Stride(NamedTuple):
    """What changes with a picture: K lights, each once."""

    lights: Indices
    before: Words
    after: Words


STILL = Stride(np.zeros(0, np.intp), np.zeros(0, np.uint32), np.zeros(0, np.uint32))


class Strides:
    """Goes from picture to picture, as they are shown, on a layout of so many nodes."""

    def __init__(self, nodes: int) -> None:
        self._marks = np.zeros(nodes, np.bool_)
        self._words: Words = np.zeros(nodes, np.uint32)
        """Of the picture reached."""
        self._lit: Lit | None = None
        """That picture."""
        self._shown: Frame | None = None
        """The frame shown that is that picture; None where no frame is known to be."""

    def of(self, shown: Frame, pictures: Sequence[Lit], draw: Callable[[Lit], Bytes]) -> list[Stride]:
        """Return what each of these pictures changes, after what is shown; `draw` gives (N, 4).

        They end before the first that changes more than a few lights.
        """
        strides = []
        if shown is not self._shown:
            strides.append(self._set_out(shown, pictures[0], draw))
        self._shown = None
        for lit in pictures[len(strides) :]:
            strides.append(self._go_on_to(lit))
            if strides[-1] is None:
                self._lit = None
                break
        return [each for each in strides if each]

    def stand_at(self, shown: Frame) -> None:
        """Take it that the last picture is what is shown."""
        self._shown = shown if self._lit else None

    def _set_out(self, shown: Frame, lit: Lit, draw: Callable[[Lit], Bytes]) -> Stride | None:
        """Begin with a picture that is drawn in full."""
        self._lit, self._words = lit, words_of(draw(lit)).copy()
        was = words_of(shown.nodes)
        (lights,) = (self._words != was).nonzero()
        if len(lights) > FEW_SHARE * len(self._words):
            self._lit = None
            return None
        return Stride(lights, was.take(lights), self._words.take(lights))

    def _go_on_to(self, lit: Lit) -> Stride | None:
        before, self._lit = self._lit, lit
        if lit is before:
            return STILL
        if before is None or before.rest.tobytes() != lit.rest.tobytes():
            return None
        lights = either(lit.nodes, before.nodes, self._marks)
        if isinstance(lights, slice):
            return None
        was = self._words.take(lights)
        self._words[before.nodes] = words_of(before.rest[None])
        self._words[lit.nodes] = words_of(lit.values)
        now = self._words.take(lights)
        (other,) = (was != now).nonzero()
        if len(other) < len(lights):
            return Stride(lights.take(other), was.take(other), now.take(other))
        return Stride(lights, was, now)
