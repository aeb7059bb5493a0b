"""Who is on the network, and whether that is as planned: it asks while it is open, and only shows."""

from collections.abc import Callable, Iterable, Iterator
from threading import Event
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widget import Widget

from streamer.errors import RopewalkError
from tui.scanning import Lines
from tui.screens.sheet import Sheet
from tui.widgets.scan_text import ScanText

ASKING = "Asking who is there..."


class ScanSheet(Sheet[None]):
    """Scrolls. `begin` scans, in a thread, until the function that it is given says that it is over."""

    title_text = "Who is there"
    BINDINGS: ClassVar[list[BindingType]] = [Binding("k", "back_out", "Back", show=False)]

    def __init__(self, begin: Callable[[Callable[[], bool]], Iterator[Lines]]) -> None:
        super().__init__()
        self._begin = begin
        self._is_over = Event()

    def body(self) -> Iterable[Widget]:
        """Return what is found."""
        with VerticalScroll(classes="sheet-body"):
            yield ScanText(ASKING, markup=False)

    def on_mount(self) -> None:
        """Let the arrows scroll at once, and begin."""
        self.query_one(VerticalScroll).focus()
        self.run_worker(self._scan, thread=True)

    def on_unmount(self) -> None:
        """Ask nobody any more."""
        self._is_over.set()

    def _scan(self) -> None:
        text = self.query_one(ScanText)
        try:
            for lines in self._begin(self._is_over.is_set):
                if not self._is_over.is_set():
                    self.app.call_from_thread(text.show_lines, lines)
        except RopewalkError as error:
            if not self._is_over.is_set():
                self.app.call_from_thread(text.show_trouble, str(error))
