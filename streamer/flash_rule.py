"""The rule about flashing light that every room keeps; plain, so that asking is quick."""

FLASHES_PER_S = 3
"""WCAG 2.x success criterion 2.3.1: no more than three flashes in any one-second period."""
WINDOW_S = 1.0
"""That period."""

DANGER = (
    f"more than {FLASHES_PER_S} flashes in any second can bring on seizures in photosensitive people "
    "(WCAG 2.x, success criterion 2.3.1)"
)
