"""The key that makes everything dark: on every screen and sheet, at the same place."""

from textual.content import Content
from textual.events import Click

from streamer.engine.messages import State
from tui.actions import BY_NAME
from tui.widgets.told import Told


class DarkCap(Told):
    """A large keycap; it names the key that works just now."""

    def tell(self) -> Content:
        """Return what it does and its key; without an engine it does nothing, and must not promise to."""
        if not self.talk.is_engine_there:
            return Content("GONE")
        is_dark = self.talk.status.state is State.DARK
        action = BY_NAME["dark" if self.host.is_text_typed else "dark_by_space"]
        self.set_class(is_dark, "is-on")
        gap = "\n" if self.size.height > 1 else " "
        return Content(f"{'LIGHT' if is_dark else 'DARK'}{gap}{action.written}")

    async def on_click(self, event: Click) -> None:
        """Do as the key does."""
        event.stop()
        await self.run_action("app.dark")
