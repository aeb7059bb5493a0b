"""The night run: the display kept working for hours, everything watched, and nothing that was seen lost."""
