"""The main screen and the sheets that are laid over it, one a file."""
