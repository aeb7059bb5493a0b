"""Puts the looks of a walk on the lights: one engine, started for the first look and ended with the last."""

import contextlib
import os
import time
from types import TracebackType
from typing import Self

from streamer.cli.rivals import rivals
from streamer.display.numbering import universe_text
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import Change, Counts, Ended, Jump, Play, Refused, Setup, Show, Status, Stop
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError
from streamer.prove.checks import Look

WIDEST = "probe"
"""The pattern that sends to the most universes: the neighbours' too."""
UP_LIMIT_S = 5.0
"""The flash guard holds a picture back for up to a second; after this the engine is not what it should be."""
FRAMES_UP = 2
"""The first may still be the picture before; the second has left with it."""
END_LIMIT_S = 2.0


class Lights:
    """The lights of a display, as a context; leaving it ends the streams with the lights dark.

    NetworkError, PlanError or LinkError when they cannot be had.
    """

    def __init__(self, setup: Setup, level_percent: float) -> None:
        self._setup = setup
        self._level_percent = level_percent
        self._link: EngineLink | None = None
        self._is_playing = False

    def check_rivals(self) -> None:
        """Raise LinkError when another run sends to the same place."""
        for name, key in rivals(self._setup, WIDEST):
            where = f"{universe_text(key.protocol, key.universe)} to {key.address}"
            raise LinkError(
                f"{name} already sends {where}, and the two would disturb each other. "
                f"End it first (ropewalk stop {name}), or say --anyway."
            )

    def __enter__(self) -> Self:
        self._link = start(f"prove-{os.getpid()}", client_name("ropewalk prove"))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._link:
            with contextlib.suppress(LinkError):
                self._link.send(Stop())
                wait_for(self._link, Ended, END_LIMIT_S)
            self._link.close()

    @property
    def link(self) -> EngineLink:
        """The engine; LinkError outside of the context."""
        if self._link is None:
            raise LinkError("The lights are not in hand.")
        return self._link

    def show(self, look: Look) -> None:
        """Put a look up, and return when it has been seen to stand; LinkError when it cannot be had."""
        show = Show(
            pattern=look.pattern,
            params=dict(look.params),
            pace=0.0,
            ports=look.ports,
            level_percent=self._level_percent,
        )
        self.link.send(Change(show=show) if self._is_playing else Play(setup=self._setup, show=show))
        self.link.send(Jump(step=look.step))
        self._is_playing = True
        self._wait_until_up(show, look.step)

    def _wait_until_up(self, show: Show, step: int) -> None:
        """Wait until frames of it have gone out of which the flash guard has held none back."""
        since: Counts | None = None
        limit_s = time.monotonic() + UP_LIMIT_S
        while (left_s := limit_s - time.monotonic()) > 0:
            for report in reports(self.link, left_s):
                if isinstance(report, Refused | Ended):
                    raise LinkError(report.reason)
                if not isinstance(report, Status) or report.show != show or report.step != step:
                    continue
                if since and report.counts.held == since.held:
                    if report.counts.frames >= since.frames + FRAMES_UP:
                        return
                else:
                    since = report.counts
        raise LinkError(f"The engine did not show {show.pattern} within {UP_LIMIT_S:g} s.")

    def attend(self) -> None:
        """Hear what the engine says meanwhile; LinkError when it has ended or gone."""
        for report in self.link.receive():
            if isinstance(report, Ended):
                raise LinkError(f"The lights have gone dark: {report.reason}. Start again to go on.")
        if not self.link.is_open:
            raise LinkError("The engine has gone without a word. Start again to go on where you were.")
