"""The rope: how far the pattern has come. Behind it is laid, ahead it is yarn; a tap goes there."""

from textual.content import Content
from textual.events import Click

from tui.widgets.told import Told

LAID, KNOT, YARN = "/", "O", "-"


class Rope(Told):
    """One row; a pattern that stands still is all yarn."""

    def tell(self) -> Content:
        """Return the row."""
        status, width = self.talk.status, max(1, self.size.width)
        if not self.talk.is_playing or status.steps <= 1:
            return Content.styled(YARN * width, "$yarn")
        at = (status.step % status.steps) * (width - 1) // (status.steps - 1)
        return Content.assemble(
            (LAID * at, "$rope"), (KNOT, "bold $accent"), (YARN * (width - 1 - at), "$yarn")
        )

    def on_click(self, event: Click) -> None:
        """Go to the step that was tapped."""
        event.stop()
        status, width = self.talk.status, self.size.width
        if self.talk.is_playing and status.steps > 1 and width > 1:
            self.talk.jump(round(event.x * (status.steps - 1) / (width - 1)))
