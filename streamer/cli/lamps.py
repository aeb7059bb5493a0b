"""The lights while a search asks: a run of the engine that puts up one still picture after another."""

import contextlib
import os
from collections.abc import Iterable
from types import TracebackType
from typing import Self

from streamer.cli.outcome import complaints_text
from streamer.cli.rivals import rivals
from streamer.display.model import Display
from streamer.display.numbering import universe_text
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import Change, Ended, Play, Refused, Report, Setup, Show, Status, Stop
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError

PICTURE = "picture"
END_LIMIT_S = 2.0


class Lamps:
    """Puts pictures on a canvas, use it in `with`: however that ends, the lights go dark and the streams end.

    LinkError when the engine refuses or is gone, or another run sends to the same place.
    """

    def __init__(
        self, canvas: Display, interface: str | None, level_percent: float, *, anyway: bool = False
    ) -> None:
        self._setup = Setup(display=canvas, interface=interface)
        self._level_percent = level_percent
        self._name = f"find-{os.getpid()}"
        self._link: EngineLink | None = None
        self.trouble = ""
        """What the operating system refused last, in words."""
        self._is_playing = False
        if not anyway:
            self._check_rivals()

    def _check_rivals(self) -> None:
        for name, key in rivals(self._setup, PICTURE):
            raise LinkError(
                f"{name} already sends {universe_text(key.protocol, key.universe)} to {key.address}, and the "
                f"two would disturb each other. End it first (ropewalk stop {name}), or say --anyway."
            )

    def __enter__(self) -> Self:
        self._link = start(self._name, client_name("ropewalk find"))
        return self

    def put_up(self, nodes: str) -> None:
        """Show a picture, as digits for the nodes of the canvas, in place of the one before."""
        if self._link is None:
            raise LinkError("The lights are put up in `with Lamps(...)` only.")
        self.heed()
        show = Show(pattern=PICTURE, params={"nodes": nodes}, level_percent=self._level_percent)
        is_first = not self._is_playing
        self._link.send(Play(setup=self._setup, show=show) if is_first else Change(show=show))
        self._is_playing = True
        self._note([wait_for(self._link, Status)])

    def heed(self, seconds: float = 0.0) -> None:
        """Take note of what the engine says, waiting for it so long; LinkError when it refuses or is gone."""
        if self._link is not None:
            self._note(reports(self._link, seconds))

    def _note(self, heard: Iterable[Report]) -> None:
        for report in heard:
            if isinstance(report, Refused):
                raise LinkError(report.reason)
            if isinstance(report, Ended):
                raise LinkError(f"The lights went dark: {report.reason}. Start again.")
            if isinstance(report, Status):
                self.trouble = complaints_text(report.complaints) if report.complaints else ""

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        link, self._link = self._link, None
        if link is None:
            return
        try:
            with contextlib.suppress(LinkError):
                if self._is_playing:
                    link.send(Stop())
                    wait_for(link, Ended, END_LIMIT_S)
        finally:
            link.close()
