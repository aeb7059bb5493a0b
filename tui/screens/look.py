"""The sheet for the pattern: which one, its settings, its pace, the level and the rate.

A run in progress follows every turn of a dial at once; Esc puts back what was there before.
"""

from collections.abc import Callable, Iterable
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from patterns.plain import Param, Pattern, PatternError
from streamer.engine.messages import RATE_HIGH_HZ, RATE_LOW_HZ, Show
from streamer.flash_rule import DANGER, FLASHES_PER_S
from tui.plain import shown
from tui.screens.sheet import Sheet
from tui.talk import Talk
from tui.widgets.dial import Dial, Value

FULL_PERCENT = 100
SPAN_PARTS = 100
FLASHES = "flashes"
NUMBERS: dict[str, tuple[str, str, str, float, float]] = {
    "level_percent": ("level", "Brightness; the engine's limits still hold.", "%", 5, 0),
    "pace": ("pace", "Steps a second by itself; 0 stands still.", "steps/s", 1, 0),
    "rate_hz": ("rate", "Packets a second to each universe, at most.", "Hz", 1, RATE_LOW_HZ),
}
"""Label, sentence, unit, turn and lowest value of what every pattern has, by its name in `Show`."""


class Look(Sheet[bool]):
    """Answers True when kept; None when the old show was put back."""

    title_text = "Pattern"
    caps = (("Enter", "Keep", "screen.keep"), ("Esc", "Put back", "screen.back_out"))
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "keep", "Keep", show=False),
        Binding("right", "app.focus_next", "To the dials", show=False),
    ]

    def __init__(self, talk: Talk, wish_level: Callable[[float, Dial], None]) -> None:
        super().__init__()
        self._talk, self._wish_level = talk, wish_level
        self._before: Show = talk.show
        self._flashes_before, self._wish_before = talk.flashes_per_s, talk.flashes_wish
        self._patterns: tuple[Pattern, ...] = ()

    def body(self) -> Iterable[Widget]:
        """Return the list of patterns and the dials of the chosen one."""
        from patterns.registry import all_patterns

        self._patterns = all_patterns()
        with Horizontal(classes="sheet-body"):
            yield OptionList(
                *(
                    Option(Content.assemble((shown(each.name), "bold")), id=each.name)
                    for each in self._patterns
                ),
                id="patterns",
            )
            yield VerticalScroll(id="dials", can_focus=False)

    async def on_mount(self) -> None:
        """Stand on the pattern that is shown."""
        chosen = self.query_one(OptionList)
        names = [each.name for each in self._patterns]
        if self._talk.show.pattern in names:
            chosen.highlighted = names.index(self._talk.show.pattern)
        chosen.focus()
        await self._show_dials()

    @property
    def _pattern(self) -> Pattern | None:
        return next((each for each in self._patterns if each.name == self._talk.show.pattern), None)

    async def _show_dials(self) -> None:
        pattern, show = self._pattern, self._talk.show
        dials = self.query_one("#dials", VerticalScroll)
        await dials.remove_children()
        if pattern is None:
            return
        pace = pattern.pace if show.pace is None else show.pace
        await dials.mount(
            Static(Content.assemble((pattern.sentence, "bold"), "\n", (pattern.shows, "$quiet"), "\n")),
            *(self._param_dial(pattern, param) for param in pattern.params),
            self._number("level_percent", show.level_percent, FULL_PERCENT),
            self._number("pace", float(pace), pattern.pace_limit),
            self._number("rate_hz", show.rate_hz, RATE_HIGH_HZ),
            self._flashes_dial(),
        )

    def _param_dial(self, pattern: Pattern, param: Param) -> Dial:
        from patterns.registry import settle

        def read(text: str) -> Value:
            try:
                return settle(pattern, {param.name: text})[param.name]
            except PatternError as error:
                raise ValueError(str(error)) from error

        span = None if param.low is None or param.high is None else param.high - param.low
        turn = span / SPAN_PARTS if isinstance(param.default, float) and span else 1
        value = self._talk.show.params.get(param.name, param.default)
        return Dial(
            param.name, value, param.sentence, read=read, choices=param.choices,
            low=param.low, high=param.high, unit=param.unit, turn_by=turn,
        )  # fmt: skip

    @staticmethod
    def _number(field: str, value: float, high: float) -> Dial:
        label, sentence, unit, turn, low = NUMBERS[field]

        def read(text: str) -> Value:
            wrong = f"{text} is not a number from {low:g} to {high:g}"
            try:
                number = float(text)
            except ValueError:
                raise ValueError(wrong) from None
            if not low <= number <= high:
                raise ValueError(wrong)
            return number

        return Dial(
            label, float(value), sentence, read=read, low=low, high=high, unit=unit, turn_by=turn, field=field
        )

    def _flashes_dial(self) -> Dial:
        setup = self._talk.setup
        most = setup.display.flashes_per_s if setup else FLASHES_PER_S

        def read(text: str) -> int:
            if not text.isdecimal() or not 1 <= int(text) <= most:
                raise ValueError(f"1 to {most} here; {DANGER}")
            return int(text)

        sentence = "No light flashes more often in any second; lower it where people are sensitive."
        return Dial(
            FLASHES, self._talk.flashes_per_s, sentence, read=read, low=1, high=most, unit="a second",
            field=FLASHES,
        )  # fmt: skip

    async def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Show the chosen pattern at once; chosen a second time, keep it."""
        if event.option.id is None or event.option.id == self._talk.show.pattern:
            self.action_keep()
            return
        self._talk.pattern_with(event.option.id, {})
        await self._show_dials()

    def on_dial_turned(self, event: Dial.Turned) -> None:
        """Pass the turn on; the app asks before full power."""
        dial = event.dial
        if dial.field == "level_percent":
            self._wish_level(float(dial.value), dial)
        elif dial.field == FLASHES:
            self._talk.calm(int(dial.value))
        elif dial.field:
            self._talk.change(**{dial.field: dial.value})
        else:
            self._talk.change(params={**self._talk.show.params, dial.label: dial.value})

    def action_keep(self) -> None:
        """Close; what is shown stays."""
        self.dismiss(True)

    def action_back_out(self) -> None:
        """Close; what was shown before comes back."""
        before = self._before
        self._talk.change(**before.model_dump())
        if self._talk.flashes_wish != self._wish_before:
            # More than that would take the word again.
            self._talk.calm(min(FLASHES_PER_S, self._flashes_before))
        self.dismiss(None)
