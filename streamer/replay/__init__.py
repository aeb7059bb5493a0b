"""A capture streamed again: what is in it, whether it may be, and at what pace."""
