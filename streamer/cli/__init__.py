"""The command line: thin. Every command asks one room of the house, and prints what it says.

The `ropewalk` command itself is put together in `tui.commands`, since some of its commands open a screen.
"""
