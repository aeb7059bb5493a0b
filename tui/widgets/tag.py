"""The tag on the node looked at: its port and number, its universe and slots, its colour."""

from textual.content import Content

from streamer.display.model import Protocol
from tui.plain import cut, shown
from tui.rows import StringRow
from tui.widgets.lane import Lane
from tui.widgets.told import Told

NARROW = 60
COLON = ": "


class Tag(Told):
    """Two or three lines, none ever cut: a long label gives way first; more where the screen is narrow."""

    def tell(self) -> Content:
        """Return the lines."""
        lane = self.screen.query_one(Lane)
        here = lane.picture.here
        if here is None or not self.host.is_painted:
            return Content(" \n ")
        who, where, light = self.sentences(lane, here)
        seen = self._seen(here)
        more = f"\n{seen}" if seen else ""
        if self.size.width < NARROW:
            where = where.replace(" (channel", "\n(channel")
            return Content.assemble((who, "bold $accent"), f"\n{light}\n{where}{more}")
        over = len(who) + len(COLON) + len(light) - self.size.width
        if over > 0 and here.port.label:
            label = shown(here.port.label)
            who = who.replace(label, cut(label, max(1, len(label) - over)), 1)
        return Content.assemble((f"{who}{COLON}{light}", "bold $accent"), f"\n{where}{more}")

    def _seen(self, row: StringRow) -> str:
        arrivals = self.talk.arrivals.ports if self.talk.arrivals else ()
        port = next((each for each in arrivals if each.name == row.port.name), None)
        if port is None:
            return ""
        discarded = f", {port.discarded} discarded" if port.discarded else ""
        text = f"arrived: {port.packets} packets, {port.lost} lost{discarded}; {port.lit} lit"
        faults = "; ".join(port.faults) or "no fault"
        return shown(f"{faults}; {text}" if self.host.is_revealed else text)

    def sentences(self, lane: Lane, row: StringRow) -> tuple[str, str, str]:
        """Return who it is, where its data lies, and what light it shows."""
        from streamer.display.numbering import node_address_text

        label = f' "{row.port.label}"' if row.port.label else ""
        follows = "" if lane.picture.pinned is None else " (Esc follows the light)"
        who = shown(f"{row.port.name}{label} node {lane.picture.node + 1} of {row.port.nodes}{follows}")
        address = node_address_text(row.controller, row.port, lane.picture.node)
        where = shown(f"{address}{self._channel(lane, row)}, to {row.controller.address}")
        return who, where, self._light(lane)

    @staticmethod
    def _light(lane: Lane) -> str:
        from tui.beads import colour_words

        picture = lane.picture
        if picture.pinned is None and picture.was_lit and not picture.is_lit:
            return "dark, was lit"
        components = picture.components
        return "dark" if components is None else colour_words(components, lane.choice.gain)

    @staticmethod
    def _channel(lane: Lane, row: StringRow) -> str:
        from streamer.display.numbering import channel_of
        from streamer.display.slots import slots_of_string

        if row.controller.protocol is not Protocol.E131:
            return ""
        universes, slots = slots_of_string(row.controller, row.port)
        first = channel_of(int(universes[lane.picture.node, 0]), int(slots[lane.picture.node, 0]) + 1)
        return f" (channel {first})"
