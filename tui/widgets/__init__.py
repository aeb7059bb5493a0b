"""The pieces of the screen, one a file."""
