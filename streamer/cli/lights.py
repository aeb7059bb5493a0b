"""Puts one look after another on the lights: one engine, started for the first and ended with the last."""

import os
import shutil
import time
from collections.abc import Iterable
from contextlib import suppress
from textwrap import fill
from types import TracebackType
from typing import Self

from streamer.cli.common import complain
from streamer.cli.outcome import complaints_text
from streamer.engine.client import EngineLink, client_name, start
from streamer.engine.messages import (
    Change,
    Ended,
    Jump,
    Plan,
    Play,
    Refused,
    Report,
    Setup,
    Show,
    Status,
    Stop,
)
from streamer.engine.rising import Rising
from streamer.engine.rivals import streams_of
from streamer.engine.waiting import reports, wait_for
from streamer.errors import LinkError
from streamer.hear.lookout import Lookout

UP_LIMIT_S = 5.0
"""The flash guard holds a picture back for up to a second; after this the engine is not what it should be."""
END_LIMIT_S = 2.0


class Lights:
    """The lights of a display, as a context; leaving it ends the streams with the lights dark.

    `command` is the one that has them: "find". What the network refuses meanwhile is complained of, and other
    sources on the same universes.
    NetworkError, PlanError or LinkError when they cannot be had.
    """

    def __init__(self, setup: Setup, command: str) -> None:
        self._setup = setup
        self._command = command
        self._link: EngineLink | None = None
        self._lookout = Lookout(client_name(f"ropewalk {command}"), f"beside-{os.getpid()}")
        self._is_playing = self._has_setup = False
        self._trouble = ""
        self._plan = 0
        """The number of the plan that the engine told last."""

    def __enter__(self) -> Self:
        self._link = start(f"{self._command}-{os.getpid()}", client_name(f"ropewalk {self._command}"))
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._lookout.close()
        link, self._link = self._link, None
        if link is None:
            return
        try:
            with suppress(LinkError):
                if self._is_playing:
                    link.send(Stop())
                    wait_for(link, Ended, END_LIMIT_S)
        finally:
            link.close()

    @property
    def link(self) -> EngineLink:
        """The engine; LinkError outside of the context."""
        if self._link is None:
            raise LinkError("The lights are not in hand.")
        return self._link

    def turn_to(self, setup: Setup) -> None:
        """Play the next show on another setup; what is lit stays lit until then."""
        self._setup, self._has_setup = setup, False

    def put_up(self, show: Show, step: int = 0) -> None:
        """Hold a show at a step (from 0), and return when frames with it have left.

        LinkError when it cannot be had.
        """
        self._lookout.send(streams_of(self._setup.display, show.pattern), self._setup.interface)
        before = None if self._has_setup else self._plan
        self.link.send(Change(show=show) if self._has_setup else Play(setup=self._setup, show=show))
        self.link.send(Jump(step=step))
        self._is_playing = self._has_setup = True
        self._wait_until_up(Rising(show, step, before))

    def _wait_until_up(self, rising: Rising) -> None:
        limit_s = time.monotonic() + UP_LIMIT_S
        while (left_s := limit_s - time.monotonic()) > 0:
            for status in self._heeded(reports(self.link, left_s)):
                rising.hear(status)
                if rising.is_up:
                    return
        raise LinkError(f"The engine did not show {rising.show.pattern} within {UP_LIMIT_S:g} s.")

    def attend(self) -> None:
        """Hear what the engine says meanwhile, if there is one; LinkError when it has ended or gone."""
        if self._link is None:
            return
        self._heeded(self._link.receive())
        for sentence in self._lookout.look(time.monotonic()):
            self._complain(sentence)
        if not self._link.is_open:
            raise LinkError("The engine has gone without a word. Start again to go on where you were.")

    def _heeded(self, heard: Iterable[Report]) -> list[Status]:
        """Return the statuses among what the engine said, having complained of what is wrong."""
        statuses = []
        for report in heard:
            if isinstance(report, Refused):
                raise LinkError(report.reason)
            if isinstance(report, Ended):
                raise LinkError(f"The lights have gone dark: {report.reason}. Start again to go on.")
            if isinstance(report, Plan):
                self._plan = report.number
                self._lookout.know(report.cid)
            if isinstance(report, Status):
                self._heed(complaints_text(report.complaints) if report.complaints else "")
                statuses.append(report)
        return statuses

    def _heed(self, trouble: str) -> None:
        if trouble and trouble != self._trouble:
            self._complain(trouble)
        self._trouble = trouble

    @staticmethod
    def _complain(trouble: str) -> None:
        complain(fill(trouble, shutil.get_terminal_size().columns))
