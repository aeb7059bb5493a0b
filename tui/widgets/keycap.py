"""A keycap: a key with what it does under it, for a finger as well as for the keyboard."""

from textual.content import Content
from textual.events import Click
from textual.widget import Widget


class Keycap(Widget):
    """Two rows; a tap does what the key does. `does` is a Textual action such as "app.start"."""

    def __init__(self, written: str, label: str, does: str, **kwargs: str) -> None:
        super().__init__(**kwargs)  # type: ignore[arg-type]
        self.written, self.label, self.does = written, label, does

    def become(self, written: str, label: str, does: str, tooltip: str) -> None:
        """Turn into another key."""
        if does != self.does or written != self.written:
            self.written, self.label, self.does, self.tooltip = written, label, does, tooltip
            self.refresh()

    def render(self) -> Content:
        """Return the key above, the label below."""
        return Content.assemble((self.written, "bold $accent"), "\n", self.label)

    async def on_click(self, event: Click) -> None:
        """Do as the key does."""
        event.stop()
        await self.run_action(self.does)
