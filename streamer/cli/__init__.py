"""The command line: thin. Every command asks one room of the house, and prints what it says."""

from streamer.cli.main import main

__all__ = ["main"]
