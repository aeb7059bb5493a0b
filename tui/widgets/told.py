"""A piece of text that is made anew when there is news, and painted only when it differs."""

from abc import abstractmethod

from textual.content import Content
from textual.events import Resize
from textual.widget import Widget

from tui.host import Host, host_of
from tui.talk import Talk


class Told(Widget):
    """Shows what `tell` says about the conversation."""

    def __init__(self, **kwargs: str) -> None:
        super().__init__(**kwargs)  # type: ignore[arg-type]
        self._content = Content("")

    @property
    def host(self) -> Host:
        """The app, as far as a widget may know it."""
        return host_of(self.app)

    @property
    def talk(self) -> Talk:
        """The conversation with the engine."""
        return self.host.talk

    @abstractmethod
    def tell(self) -> Content:
        """Return what is to be shown now."""

    def on_mount(self) -> None:
        """Follow the news."""
        self.watch(self.app, "news", self.renew)

    def on_resize(self, _event: Resize) -> None:
        """Fit the text to the new width."""
        self.renew()
        self._fit()

    def renew(self) -> None:
        """Say it anew; paint only what differs."""
        content = self.tell()
        if content != self._content:
            self._content = content
            self.refresh()
            self._fit()

    def _fit(self) -> None:
        """Take as many lines as the text has at this width: it may have been laid out at another."""
        lines = len(self._content.wrap(max(1, self.size.width)))
        if self.styles.is_auto_height and lines != self.size.height:
            self.refresh(layout=True)

    def render(self) -> Content:
        """Return the text."""
        return self._content
