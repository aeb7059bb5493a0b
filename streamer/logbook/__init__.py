"""The logbook beside the display file: what was proven, found, fixed and proven again, string by string."""
