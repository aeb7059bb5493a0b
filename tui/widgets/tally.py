"""The tally: frames, lateness and errors of the run; the leash and who holds control; the last words."""

from textual.content import Content

from streamer.engine.messages import Leash
from streamer.flash_rule import FLASHES_PER_S
from tui.plain import cut, shown
from tui.widgets.told import Told

NARROW = 60
WORD_LINES = 2
GONE_LINES = 4
"""What to do when the engine has gone is read in full."""
MORE = " (e: all)"
US_PER_MS = 1000
LEASHES = {
    Leash.LEASHED: ("leash", "leash: dark if this closes"),
    Leash.FREE: ("no leash", "no leash: goes on if this closes"),
}


class Tally(Told):
    """Three lines at the bottom, or a column at the side where the screen is broad."""

    def tell(self) -> Content:
        """Return the lines."""
        width = self.size.width
        lines = self._column() if self.screen.has_class("-broad") else self._rows(width)
        lines += [*self._flashes(), *self._dimmed()]
        text = "\n".join(cut(line, width) for line in lines)
        if not self.talk.alarm:
            return Content.assemble((text, "$quiet"))
        alarm = f"! {shown(self.talk.alarm)}"
        if not self.screen.has_class("-broad"):
            alarm = self._fitting(alarm, width)
        last = Content.styled(alarm, "$error bold")
        return Content.assemble((text, "$quiet"), "\n", last)

    def _fitting(self, text: str, width: int) -> str:
        """Return as much of a text as its lines hold, broken between words."""
        lines = WORD_LINES if self.talk.is_engine_there else GONE_LINES
        fitted = text
        for room in range(lines * width, 0, -1):
            if len(Content(fitted).wrap(max(1, width))) <= lines:
                break
            fitted = cut(text, room) + MORE
        return fitted

    def _rows(self, width: int) -> list[str]:
        counts, late = self.talk.status.counts, self.talk.status.lateness
        errors = self._errors()
        if width < NARROW:
            whose = "control yours" if self.talk.status.yours else self._control()
            return [
                f"sent {counts.frames} late {counts.late} skip {counts.skipped} held {counts.held}",
                f"errors {errors}, {self._leash(0)}, {whose}",
            ]
        p50, p99, worst = (f"{each / US_PER_MS:.1f}" for each in (late.p50_us, late.p99_us, late.max_us))
        counted = f"frames {counts.frames}  late {counts.late}  skipped {counts.skipped}  held {counts.held}"
        return [
            f"{counted}  half {p50}, 99 % {p99}, worst {worst} ms late",
            f"errors {errors}  {self._leash(1)}  {self._control()}{self._route()}",
        ]

    def _column(self) -> list[str]:
        counts, late = self.talk.status.counts, self.talk.status.lateness
        times = {"half under": late.p50_us, "99 % under": late.p99_us, "worst": late.max_us}
        return [
            "",
            f"{'frames sent':<14}{counts.frames:>12,}",
            f"{'late':<14}{counts.late:>12,}",
            f"{'skipped':<14}{counts.skipped:>12,}",
            f"{'held':<14}{counts.held:>12,}",
            f"{'packets':<14}{counts.packets:>12,}",
            *(f"{name:<14}{time / US_PER_MS:>12.1f} ms late" for name, time in times.items()),
            f"{'errors':<14}{self._errors():>12}",
            "",
            self._leash(1),
            self._control(),
            self._route().strip(),
            "",
        ]

    def _flashes(self) -> list[str]:
        """Return a line where lights may flash less often or more often than is usual, else none."""
        status = self.talk.status
        if not self.talk.is_playing or status.flashes_per_s == FLASHES_PER_S:
            return []
        limit = f"flashes: up to {status.flashes_per_s} a second"
        if status.flashes_per_s > FLASHES_PER_S:
            return [f"CAUTION: {limit}, {FLASHES_PER_S} is safe"]
        return [f"{limit}, {FLASHES_PER_S} is usual"]

    def _dimmed(self) -> list[str]:
        """Return what fuses and supplies hold back: in a column a line each, else one; none where none is."""
        told = [each.words for each in self.talk.status.dimmed]
        if not told:
            return []
        if self.screen.has_class("-broad"):
            return [shown(f"dimmed: {words}") for words in told]
        if self.size.width >= NARROW:
            return [shown(f"dimmed: {', '.join(told)}")]
        more = f" (+{len(told) - 1}, i)" if told[1:] else ""
        return [shown(f"dimmed{more}: {told[0]}")]

    def _errors(self) -> str:
        return " ".join(f"{name} {count}" for name, count in self.talk.status.counts.errors.items()) or "none"

    def _leash(self, length: int) -> str:
        return LEASHES[self.talk.leash][length] if self.talk.is_engine_there else "no engine"

    def _control(self) -> str:
        status = self.talk.status
        if status.yours and self.talk.is_engine_there:
            return "you hold control"
        return f"held by {status.control}, t takes it" if status.control else "nobody holds control"

    def _route(self) -> str:
        return f"  by {self.talk.status.route}" if self.talk.status.route else ""
