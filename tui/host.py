"""What screens and widgets may know of the app they stand in; they never import the app itself."""

from typing import Protocol, cast, runtime_checkable

from tui.outlook import Outlook
from tui.talk import Talk


@runtime_checkable
class Host(Protocol):
    """The app, as it is seen from inside."""

    talk: Talk
    outlook: Outlook
    """What is heard of others."""
    typed: str
    """The digits of a step, while they are being typed."""
    is_painted: bool
    """Whether the first picture is on the screen; what loads NumPy waits for that."""
    is_revealed: bool
    """Whether the yard's faults are shown."""

    @property
    def mode(self) -> str:
        """What can be done now: one of `tui.actions.MODES`."""

    @property
    def is_text_typed(self) -> bool:
        """Whether a space now belongs to a text."""


_hosts: set[type] = set()
"""Apps that have been found to be hosts: each widget asks at each news, and looking takes long."""


def host_of(app: object) -> Host:
    """Return the app as a host. Raises TypeError for any other app."""
    if type(app) not in _hosts:
        if not isinstance(app, Host):
            raise TypeError("this screen belongs to Ropewalk's own app")
        _hosts.add(type(app))
    return cast("Host", app)
