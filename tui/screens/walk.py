"""The main screen: lantern, rope, lane, tag and tally. It follows the news and looks at the shared frames."""

import os

from textual.app import ComposeResult
from textual.containers import Container, Horizontal, Vertical
from textual.events import Key
from textual.screen import Screen
from textual.timer import Timer

from tui.actions import IS_DARK
from tui.as_hung import AsHung
from tui.host import Host
from tui.picture import Choice
from tui.sight import Sight
from tui.widgets.caption import Caption
from tui.widgets.clash import Clash
from tui.widgets.dark_cap import DarkCap
from tui.widgets.keycaps import Keycaps
from tui.widgets.lane import Lane
from tui.widgets.lantern import Lantern
from tui.widgets.rope import Rope
from tui.widgets.tag import Tag
from tui.widgets.tally import Tally

LOCAL_HZ, REMOTE_HZ = 20.0, 4.0
REMOTE_VARIABLES = ("SSH_CONNECTION", "SSH_TTY")
LONGEST_NUMBER = 6


class Walk(Screen[None]):
    """Looks 20 times a second at this machine, 4 times over ssh, and not at all while nothing is on."""

    def __init__(self, host: Host) -> None:
        super().__init__()
        self._host = host
        self._sent, self._arrived = Sight(), Sight()
        self._as_hung = AsHung()
        self._looking: Timer | None = None

    def compose(self) -> ComposeResult:
        """Put the screen together."""
        with Horizontal(id="top"):
            yield Lantern()
            yield DarkCap()
        yield Caption()
        yield Clash()
        yield Rope()
        with Container(id="floor"):
            yield Lane()
            with Vertical(id="card"):
                yield Tag()
                yield Tally()
        yield Keycaps()

    def on_mount(self) -> None:
        """Begin to follow."""
        rate_hz = REMOTE_HZ if any(os.environ.get(each) for each in REMOTE_VARIABLES) else LOCAL_HZ
        self._looking = self.set_interval(1 / rate_hz, self.look, pause=True)
        self.watch(self.app, "news", self.follow)

    def follow(self) -> None:
        """Take in the news: rows, choice of ports, keys; look while something is on."""
        talk, lane = self._host.talk, self.query_one(Lane)
        lane.show_display(talk.setup.display if talk.setup else None)
        show = talk.show_on
        ports = None if show.ports is None else frozenset(show.ports)
        lane.show_choice(Choice(ports, show.level_percent, self._notes()))
        self.query_one(Keycaps).show_mode(self._host.mode)
        if self._looking is None:
            return
        if talk.is_playing and talk.is_engine_there:
            self._looking.resume()
        else:
            self._looking.pause()
            self.look()

    def _notes(self) -> dict[str, str]:
        notes = {}
        for port in self._host.talk.arrivals.ports if self._host.talk.arrivals else ():
            if port.faults and self._host.is_revealed:
                notes[port.name] = port.faults[0]
            elif not port.is_live and self._host.talk.is_playing:
                notes[port.name] = "no packets"
        return notes

    def look(self) -> None:
        """Look at the newest frames."""
        talk, lane = self._host.talk, self.query_one(Lane)
        if not (talk.setup and talk.plan and talk.is_playing):
            lane.see(None, None)
            return
        newest = self._sent.look(talk.plan.frame_path)
        sent = self._as_hung.see(newest, talk.plan.setup.display, talk.setup.display)
        arrived = self._arrived.look(talk.arrivals.frame_path) if talk.arrivals else None
        lane.see(sent, arrived)

    def on_lane_looked(self, _event: Lane.Looked) -> None:
        """Say whose tag it is now."""
        self.query_one(Tag).renew()

    def on_key(self, event: Key) -> None:
        """Collect the digits of a step; say why Enter does nothing in the dark."""
        typed = self._host.typed
        if event.key == "enter" and self._host.mode == IS_DARK:
            self.notify("Still dark. Space brings the lights back.", markup=False)
        elif not self._host.talk.is_playing:
            return
        elif event.character and event.character in "0123456789" and len(typed) < LONGEST_NUMBER:
            self._host.typed = typed + event.character
        elif event.key == "backspace" and typed:
            self._host.typed = typed[:-1]
        else:
            return
        event.stop()
