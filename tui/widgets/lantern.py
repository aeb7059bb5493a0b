"""The lantern: the engine's state and the step in hand, three rows tall, to be read at arm's length."""

from textual.content import Content

from streamer.engine.messages import State
from tui.widgets.bigtype import big
from tui.widgets.told import Told

GAP = "    "


class Lantern(Told):
    """State word and step number, as large as the width allows."""

    def tell(self) -> Content:
        """Return three rows: both words if they fit, else the one that matters more."""
        status, talk = self.talk.status, self.talk
        word = str(status.state) if talk.is_engine_there else "gone"
        number = f"{status.step % max(1, status.steps) + 1}"
        texts = [word]
        if talk.is_playing and status.steps > 1:
            texts = [f"{word}|{number}/{status.steps}", f"{word}|{number}"]
            texts += [f"{number}/{status.steps}", number] if status.state is State.IN_HAND else [word]
        width = self.size.width
        fitting = next((text for text in texts if len(self._rows(text)[0]) <= width), texts[-1])
        self.set_classes(f"state-{word.replace(' ', '-')}")
        return Content("\n".join(row[:width] for row in self._rows(fitting)))

    @staticmethod
    def _rows(text: str) -> tuple[str, str, str]:
        word, _, number = text.partition("|")
        if not number:
            return big(word)
        first, second, third = (
            f"{left}{GAP}{right}" for left, right in zip(big(word), big(number), strict=True)
        )
        return first, second, third
