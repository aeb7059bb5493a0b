"""Everything on the wire, source by source, with what the listener says of it. It only shows."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.host import Host, host_of
from tui.plain import shown
from tui.screens.levels import LevelSheet
from tui.screens.sheet import Sheet
from tui.screens.words import Words
from tui.widgets.heard_table import HeardTable
from tui.widgets.heard_text import detail

if TYPE_CHECKING:
    from streamer.hear.messages import Heard

NARROW = 60
COMING = "The listener is coming up..."
NOTHING = "Nothing is heard yet."


class HearSheet(Sheet[None]):
    """Has the lookout hear everything while it is open."""

    title_text = "On the wire"
    caps = (
        ("Enter", "Levels...", "screen.levels"),
        ("d", "Announced", "screen.discover"),
        ("n", "Notes...", "screen.notes"),
        ("Esc", "Back", "screen.back_out"),
    )
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "levels", "Levels", show=False),
        Binding("d", "discover", "Announced", show=False),
        Binding("n", "notes", "Notes", show=False),
        Binding("y", "back_out", "Back", show=False),
    ]

    def __init__(self) -> None:
        super().__init__()
        self._told: tuple[Heard | None, tuple[object, ...]] | None = None

    def body(self) -> Iterable[Widget]:
        """Return the sockets, what should be known, the table, and the row under the cursor in full."""
        yield Static(Content(COMING), id="hear-sockets")
        yield Static("", id="hear-note")
        yield HeardTable()
        yield Static("", id="hear-detail")

    @property
    def host(self) -> Host:
        """The app."""
        return host_of(self.app)

    def on_mount(self) -> None:
        """Begin to hear; without a display, what sources announce."""
        self._hear(discover=self.host.talk.setup is None)
        self.query_one(HeardTable).focus()
        self.watch(self.app, "news", self.renew)

    def on_unmount(self) -> None:
        """Hear no more than the run needs."""
        self.host.outlook.hide()

    def _hear(self, *, discover: bool) -> None:
        setup = self.host.talk.setup
        display, interface = (setup.display, setup.interface) if setup else (None, None)
        self.host.outlook.show(display, interface, discover=discover)

    def renew(self) -> None:
        """Show what is heard now."""
        outlook = self.host.outlook
        heard = outlook.heard
        state = (outlook.trouble, outlook.cid, outlook.discover, self.app.size.width)
        if self._told and self._told[0] is heard and self._told[1] == state:
            # The engine has news several times a second, the listener once.
            return
        self._told = (heard, state)
        self.query_one(HeardTable).show(heard, outlook.cid)
        self.query_one("#hear-sockets", Static).update(Content(self._sockets()))
        notes = (outlook.trouble,) if outlook.trouble else heard.notes if heard else ()
        note = self.query_one("#hear-note", Static)
        note.display = bool(notes)
        more = f" ({len(notes) - 1} more: n)" if len(notes) > 1 else ""
        note.update(Content(f"! {shown(notes[0])}{more}" if notes else ""))
        self._tell_row()

    def _sockets(self) -> str:
        from streamer.cli.heard import socket_text
        from streamer.display.numbering import PROTOCOL_NAME

        heard = self.host.outlook.heard
        if heard is None:
            return COMING
        if self.app.size.width < NARROW:
            return "\n".join(
                f"{PROTOCOL_NAME[each.protocol]}: {each.datagrams} datagrams, {each.dropped or 0} dropped"
                for each in heard.sockets
            )
        lines = [f"{PROTOCOL_NAME[each.protocol]}: {socket_text(each)}" for each in heard.sockets]
        lines += [
            f"'{shown(each.name)}' at {each.address} announces {len(each.universes)} universes"
            + ("." if self.host.outlook.discover else "; d hears them all.")
            for each in heard.announced[:1]
        ]
        return "\n".join(lines)

    def _tell_row(self) -> None:
        row = self.query_one(HeardTable).row
        lines = detail(row, is_short=self.app.size.width < NARROW) if row else (NOTHING,)
        self.query_one("#hear-detail", Static).update(Content("\n".join(map(shown, lines))))

    def on_heard_table_chosen(self) -> None:
        """Tell of the row that is under the cursor now."""
        self._tell_row()

    def action_discover(self) -> None:
        """Hear what sources announce as well, or no longer."""
        self._hear(discover=not self.host.outlook.discover)
        state = "as well" if self.host.outlook.discover else "no longer"
        self.notify(f"What sources announce is heard {state}.", markup=False)

    def action_levels(self) -> None:
        """Open the levels of the universe under the cursor."""
        row = self.query_one(HeardTable).row
        if row is not None:
            self.app.push_screen(LevelSheet(row.universe))

    def action_notes(self) -> None:
        """Show what should be known, and who announces what, in full."""
        heard = self.host.outlook.heard
        lines = [self.host.outlook.trouble] if self.host.outlook.trouble else []
        for each in heard.announced if heard else ():
            universes = ", ".join(map(str, each.universes))
            lines.append(f"'{each.name}' at {each.address}, CID {each.cid}, announces: {universes}")
        lines += [
            f"Groups of IPv6 are not heard: {each.without_ipv6}"
            for each in (heard.sockets if heard else ())
            if each.without_ipv6
        ]
        lines += reversed(heard.notes if heard else ())
        self.app.push_screen(Words(lines or ["There is nothing to say."], "What should be known"))
