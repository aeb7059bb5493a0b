"""Frames made ahead as they are: all lights of each, and all packets. For small displays that is quickest."""

from collections.abc import Sequence
from dataclasses import dataclass

from patterns.plain import Frame
from streamer.engine.cadence import Cadence
from streamer.engine.pacing import NEVER_S
from streamer.engine.packing import Packing
from streamer.engine.ready import Act, Ready, Sent
from streamer.engine.showing import Showing
from streamer.engine.stage import Foreseen, Stage
from streamer.net.sender import Sender


class WholeFrames:
    """Makes frames of a stage, so many at a time."""

    def __init__(self, stage: Stage, sender: Sender, showing: Showing, most_frames: int) -> None:
        self._stage, self._showing = stage, showing
        self._packing = Packing(stage.streams, sender, most_frames)

    def make(self, moments_s: Sequence[float], late_s: float) -> "MadeWhole | None":
        """Return the frames of these moments, up to the first that may not be seen; None if there is none."""
        streams = self._stage.streams
        cadences, written = [cadence.copy() for cadence in streams.cadences], streams.written
        foreseen = self._stage.foresee(moments_s, late_s)
        if not foreseen.frames:
            return None
        departures = self._packing.pack(moments_s[: len(foreseen.frames)], foreseen)
        shows = self._showing.lay_by(Frame(foreseen.nodes, foreseen.channels))
        ready, before = [], written
        for number, sends in enumerate(departures):
            acts: list[Act] = list(sends)
            if shows and foreseen.frames[number] is not before:
                acts.append(shows[number])
            before = foreseen.frames[number]
            ready.append(Ready(number, moments_s[number], acts, (), foreseen.reached[number]))
        return MadeWhole(ready, len(foreseen.frames), self._stage, self._packing, foreseen, cadences, written)


@dataclass(slots=True)
class MadeWhole:
    """Some frames, and how all was before."""

    ready: list[Ready]
    foreseen: int
    _stage: Stage
    _packing: Packing
    _frames: Foreseen
    _cadences: list[Cadence]
    _written: Frame | None

    def keep(self) -> None:
        """Take it that all of them have gone."""
        self._packing.stand_at(self.ready[-1].number)
        self._stage.guard.keep()

    def go_back_to(self, sent: Sequence[Sent]) -> None:
        """Let guard, cadences and packets follow these, the first of them, and nothing else."""
        streams = self._stage.streams
        streams.go_back_to(self._cadences, self._written)
        if not sent:
            return
        self._packing.stand_at(sent[-1][0].number)
        nodes, channels = self._frames.nodes[: len(sent)], self._frames.channels[: len(sent)]
        sent_s = [at_s for _, at_s in sent]
        # They were judged when they were made, and have gone: none is held now, whenever that was.
        shown = self._stage.guard.admit_each(nodes, channels, [NEVER_S] * len(sent), sent_s)
        for number, (frame, at_s) in enumerate(zip(shown, sent_s, strict=True)):
            streams.written = frame
            self._packing.have_gone(number, at_s)
