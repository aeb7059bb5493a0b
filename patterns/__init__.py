"""Test patterns: pure functions of a display's layout and a moment. One file each."""
