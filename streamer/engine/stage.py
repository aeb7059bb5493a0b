"""A show laid out on a display: everything that is compiled once and then played frame by frame."""

from collections.abc import Sequence
from typing import NamedTuple
from uuid import UUID

import numpy as np

from patterns.plain import Bytes, Frame
from patterns.registry import get
from streamer.display.checks import check
from streamer.display.model import Display
from streamer.display.neighbours import neighbours
from streamer.display.patch import compile_patch
from streamer.display.places import KeyPath, Place
from streamer.display.slots import Indices
from streamer.engine.course_in_short import CourseInShort
from streamer.engine.flash_limit import flash_limit
from streamer.engine.guard import FlashGuard
from streamer.engine.messages import Setup, Show
from streamer.engine.pacing import Due
from streamer.engine.player import Player, Reached
from streamer.engine.streams import Streams
from streamer.engine.strides import Strides
from streamer.errors import PlanError
from streamer.power.limiter import CurrentLimiter

PROBLEMS_TOLD = 20
"""Of a display that came over the local socket; the files of people were checked before."""


class Foreseen(NamedTuple):
    """Frames to come."""

    frames: list[Frame]
    """Each the same object as the one before where nothing changes."""
    nodes: Bytes
    channels: Bytes
    """The same as (F, N, 4) and (F, C)."""
    reached: list[Reached]
    """Where the player is with each of the moments asked for."""


class Stage:
    """The player, the limits of current, the flash guard and the streams of a show; making one sends nothing.

    Raises PlanError or PatternError when the show cannot be had on this display.
    """

    def __init__(self, setup: Setup, show: Show, cid: UUID, now_s: float) -> None:
        self.has_neighbours = get(show.pattern).neighbours
        display = neighbours(setup.display) if self.has_neighbours else setup.display
        patch = compile_patch(display)
        layout = self._layout = patch.layout
        self.nodes_in_all = len(layout.place)
        """With those beside the plan."""
        self.planned = ~layout.is_neighbour[layout.string_of_node]
        self.channels = len(layout.channel_roles)
        flashes_per_s = flash_limit(setup)
        self.player = Player(layout, show, now_s, flashes_per_s)
        self.limiter = CurrentLimiter(display)
        self.guard = FlashGuard(len(layout.place), self.channels, flashes_per_s)
        self.streams = Streams(patch, cid, setup)
        self._strides = Strides(len(layout.place))
        self.beside: FlashGuard | None = None
        """The last guard of this display's lights beside the plan too, where this stage has none of them."""
        self._asked: Frame | None = None
        self._limited = layout.dark()
        """What fuses and supplies leave of the frame that was asked for last."""

    def go_on_from(self, before: "Stage") -> None:
        """Take over from a stage of the same display: nobody sees its streams stop or a light go dark."""
        self.player.in_hand, self.player.dark = before.player.in_hand, before.player.dark
        self.remember(before)
        self.streams.go_on_from(before.streams)

    def remember(self, before: "Stage") -> None:
        """Remember which lights of the same display have flashed, and when; those beside the plan too."""
        if self.has_neighbours and before.has_neighbours:
            everything = np.ones_like(self.planned)
            self.guard.go_on_from(before.guard, everything, everything)
            return
        self.guard.go_on_from(before.guard, before.planned, self.planned)
        if before.has_neighbours:
            self.beside = before.guard
        elif self.has_neighbours and before.beside:
            self.guard.recall(before.beside, ~self.planned)
        else:
            self.beside = before.beside

    def limit(self, flashes_per_s: int) -> None:
        """Let lights flash so often from now on, 1 to 3 times in any second."""
        self.player.limit(flashes_per_s)
        self.guard.limit(flashes_per_s)

    def compose(self, moment_s: float, now_s: float) -> tuple[Frame, list[Due]]:
        """Return the frame of a moment as it may be sent at `now_s`, and the packets that go with it."""
        # The picture is that of the frame's own moment, so that steps come evenly; flashes count as seen.
        frame = self.admit(self.player.picture(moment_s), now_s)
        due = self.streams.at_frame(frame, self.guard.altered, now_s, bursts=self.player.bursts)
        return frame, due

    def foresee(self, moments_s: Sequence[float], late_s: float) -> Foreseen:
        """Return what will be seen at some moments to come.

        They are seen by `late_s` after their moments. They end before the first that a limit would alter.
        That counts as sent once the guard is told to keep it: see `Ahead`.
        """
        nodes, channels, reached = self.player.pictures(moments_s)
        self._asked = None
        most = self._within_limits(nodes)
        seen_s = [moment_s + late_s for moment_s in moments_s[:most]]
        frames = self.guard.foresee(nodes[:most], channels[:most], moments_s[:most], seen_s)
        return Foreseen(frames, nodes[: len(frames)], channels[: len(frames)], reached)

    @property
    def is_in_short(self) -> bool:
        """Whether what is played is known in short, and no light but its own is on."""
        return self.player.is_in_short and not self.has_neighbours and not self.guard.shown.channels.any()

    def foresee_in_short(
        self, moments_s: Sequence[float], late_s: float
    ) -> tuple[CourseInShort, list[Reached]] | None:
        """Return the same known by changes alone; None where it cannot be, or where nothing may be seen.

        Once all of it has been seen, `keep_in_short` is told.
        """
        told = self.player.briefs(moments_s) if self.is_in_short else None
        if told is None:
            return None
        briefs, reached = told
        self._asked = None
        safe = self.limiter.safe_octet
        most = next((at for at, each in enumerate(briefs) if each.totals.highest > safe), len(briefs))
        shown, lits = self.guard.shown, [brief.lit for brief in briefs[:most]]
        strides = self._strides.of(shown, lits, self.player.draw) if lits else []
        if not strides:
            return None
        totals = [brief.totals for brief in briefs[: len(strides)]]
        course = CourseInShort(self.nodes_in_all, self.channels, strides, totals)
        seen_s = [moment_s + late_s for moment_s in moments_s[: len(strides)]]
        admitted = self.guard.follow(course, moments_s[: len(strides)], seen_s)
        if not admitted:
            self.guard.take_back()
            return None
        return course.until(admitted), reached

    def keep_in_short(self) -> None:
        """Take it that all frames foreseen last, in short, have been shown."""
        self.guard.keep()
        self._strides.stand_at(self.guard.shown)

    def _within_limits(self, nodes: Bytes) -> int:
        """Return how many of these frames, (F, N, 4), come before the first that fuses or supplies dim."""
        if self.limiter.allows(nodes):
            return len(nodes)
        over = (number for number, each in enumerate(nodes) if self.limiter.limit(each) is not each)
        most = next(over, len(nodes))
        self.limiter.is_dimming = False
        return most

    def admit(self, frame: Frame, now_s: float) -> Frame:
        """Return what may be sent of a frame: fuses and supplies first, then the flash guard."""
        if frame is not self._asked:
            nodes = self.limiter.limit(frame.nodes)
            self._asked = frame
            self._limited = frame if nodes is frame.nodes else Frame(nodes, frame.channels)
        return self.guard.admit(self._limited, now_s, self.player.change_of_picture)

    def go_dark(self, now_s: float) -> None:
        """Take note that every light has gone dark."""
        self.guard.admit(self._layout.dark(), now_s)

    def seen(self, frame: Frame) -> Frame:
        """Return a frame, or some at once, of the planned nodes alone."""
        if not self.has_neighbours:
            return frame
        return Frame(frame.nodes[..., self.planned, :], frame.channels)

    @property
    def altered(self) -> Indices | None:
        """The only nodes in which the frame admitted last may differ from the one before, if known."""
        altered = self.guard.altered
        return None if self.has_neighbours or isinstance(altered, slice) else altered

    @property
    def nodes(self) -> int:
        """How many planned nodes there are."""
        return int(np.count_nonzero(self.planned))


def check_display(display: Display) -> None:
    """Raise PlanError for a display that cannot be patched, whoever sent it."""
    problems = check(display, _place)
    if problems:
        raise PlanError(problems[:PROBLEMS_TOLD])


def _place(path: KeyPath) -> Place:
    return Place(".".join(map(str, path)) or "the display")
