"""The command palette's list before anything is typed: in the order of the table of actions, dark first."""

from textual.command import DiscoveryHit, Hits
from textual.system_commands import SystemCommandsProvider


class Everything(SystemCommandsProvider):
    """Textual's own provider would sort by the alphabet, with the steps before the lights."""

    async def discover(self) -> Hits:
        """Yield what can be done now."""
        for title, sentence, does, _is_discovered in self.app.get_system_commands(self.screen):
            yield DiscoveryHit(title, does, help=sentence)
