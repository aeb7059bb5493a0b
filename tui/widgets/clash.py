"""Another source on a universe of ours: a line that lasts as long as the source does, on every screen."""

from textual.content import Content

from tui.plain import shown
from tui.widgets.told import Told


class Clash(Told):
    """Who, from where, at which priority, who wins, what to do; nothing where nobody is in our way."""

    def tell(self) -> Content:
        """Return the gravest, and how many more there are."""
        briefs = self.host.outlook.briefs
        self.display = bool(briefs)
        if not briefs:
            return Content("")
        more = f" And {len(briefs) - 1} more: y shows all." if len(briefs) > 1 else ""
        return Content.styled(f"! {shown(briefs[0])}{more}", "$error bold")
