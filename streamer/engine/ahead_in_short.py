"""Frames made ahead as what they change: for large displays, where to draw them would take longer."""

from collections.abc import Sequence
from dataclasses import dataclass

from patterns.plain import Frame
from streamer.engine.cadence import Cadence
from streamer.engine.course_in_short import CourseInShort
from streamer.engine.pacing import NEVER_S
from streamer.engine.patching import Cut, Patching
from streamer.engine.ready import Ready, Sent
from streamer.engine.showing import Showing
from streamer.engine.stage import Stage
from streamer.net.sender import Sender


class FramesInShort:
    """Makes frames of a stage, any number at a time."""

    def __init__(self, stage: Stage, sender: Sender, showing: Showing, cut: Cut) -> None:
        self._stage, self._showing = stage, showing
        self._patching = Patching(stage.streams, sender, cut)

    def make(self, moments_s: Sequence[float], late_s: float, period_s: float) -> "MadeInShort | None":
        """Return the frames of these moments, up to the first that may not be seen; None if there is none."""
        streams = self._stage.streams
        cadences, written = [cadence.copy() for cadence in streams.cadences], streams.written
        told = self._stage.foresee_in_short(moments_s, late_s)
        if told is None:
            return None
        course, reached = told
        packed = self._patching.pack(moments_s[: len(course.peaks)], period_s, course)
        ready = []
        for number, (acts, later) in enumerate(packed):
            shows = self._showing.alterations(*course.altered(number)) if course.has_changed[number] else []
            ready.append(Ready(number, moments_s[number], acts + shows, later, reached[number]))
        return MadeInShort(ready, len(course.peaks), self._stage, self._patching, course, cadences, written)


@dataclass(slots=True)
class MadeInShort:
    """Some frames, and how all was before."""

    ready: list[Ready]
    foreseen: int
    _stage: Stage
    _patching: Patching
    _course: CourseInShort
    _cadences: list[Cadence]
    _written: Frame | None

    def keep(self) -> None:
        """Take it that all of them have gone."""
        self._stage.keep_in_short()
        self._stage.streams.written = self._stage.guard.shown

    def go_back_to(self, sent: Sequence[Sent]) -> None:
        """Let guard and cadences follow these, the first of them, and nothing else; the packets do."""
        guard, streams = self._stage.guard, self._stage.streams
        streams.go_back_to(self._cadences, self._written)
        guard.take_back()
        if not sent:
            return
        sent_s = [at_s for _, at_s in sent]
        # They were judged when they were made, and have gone: none is held now, whenever that was.
        guard.follow(self._course.until(len(sent)), [NEVER_S] * len(sent), sent_s)
        guard.keep()
        streams.written = guard.shown
        for number, at_s in enumerate(sent_s):
            self._patching.have_gone(number, at_s)
