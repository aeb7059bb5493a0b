"""The row of keycaps at the bottom: the five that matter just now, and the three that always do."""

from textual.app import ComposeResult
from textual.containers import Horizontal

from tui.actions import BY_NAME, KEYCAPS, KEYCAPS_ALWAYS, MODES
from tui.widgets.keycap import Keycap


class Keycaps(Horizontal):
    """Made from the table of actions; follows the mode."""

    def compose(self) -> ComposeResult:
        """Make the caps: `now` ones change, `always` ones stay."""
        for place, name in enumerate(KEYCAPS[MODES[0]]):
            yield self._cap(name, f"now now-{place}")
        for name in KEYCAPS_ALWAYS:
            yield self._cap(name, f"always always-{name}")

    @staticmethod
    def _cap(name: str, classes: str) -> Keycap:
        action = BY_NAME[name]
        cap = Keycap(action.written, action.label, f"app.{name}", classes=classes)
        cap.tooltip = action.tooltip
        return cap

    def show_mode(self, mode: str) -> None:
        """Turn the caps into those of the mode."""
        for cap, name in zip(self.query(".now").results(Keycap), KEYCAPS[mode], strict=True):
            action = BY_NAME[name]
            cap.become(action.written, action.label, f"app.{name}", action.tooltip)
