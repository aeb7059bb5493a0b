"""The front door of the `ropewalk` command: nothing is loaded yet, so Ctrl-C is answered from the start."""

import sys

INTERRUPTED = 1


def main() -> None:
    """Run the command and end the process with its exit code."""
    try:
        from tui.commands import ropewalk

        ropewalk()
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
