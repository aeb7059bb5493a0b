"""Proving: the walk through the whole display, one look, one question and one key at a time."""
