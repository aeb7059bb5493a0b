"""Who holds control of what is playing, in words: what a person who does not can do, and what comes of it."""

NIGHT_CLIENT = "ropewalk soak"
"""How the command that leads a night run calls itself to its engine."""
NIGHT_WAITS = (
    "The night run's programme waits, and its record tells that; it goes on when this screen is left."
)

FOUND_DARK = "It was not this screen that made it dark: somebody may be at the wiring. Enter lights it."
"""Before what was dark when this screen took control of it is lit again."""


def held_words(holder: str) -> str:
    """Return who holds control, and what to press."""
    if not holder:
        return "Nobody holds control. t takes it."
    if _is_night(holder):
        return (
            f"{holder} holds control: a night run. t takes it over, and Space makes all dark. {NIGHT_WAITS}"
        )
    return f"{holder} holds control. t takes it over; Space makes all dark at once."


def taken_words(holder: str) -> str:
    """Return what taking control from whoever held it means; nothing where it means no more than that."""
    return NIGHT_WAITS if _is_night(holder) else ""


def darkened_words(holder: str, *, is_hindered: bool = False) -> str:
    """Return what has been done by making dark what another controls; `is_hindered`: not all gets out."""
    from_whom = f" from {holder}" if holder else ""
    what = (
        "Dark was asked for, but not all of it may arrive: see what is wrong." if is_hindered else "All dark."
    )
    dark = f"{what} This screen has taken control{from_whom}; Space lights again. Left dark, it stays dark."
    return f"{dark} {taken_words(holder)}".rstrip()


def lighting_words(holder: str) -> str:
    """Return what to ask before what another controls is lit again."""
    who = f"{holder} holds control" if holder else "Nobody holds control"
    asked = f"{who}, and it was made dark: somebody may be at the wiring. Enter takes control and lights it."
    return f"{asked} {taken_words(holder)}".rstrip()


def _is_night(holder: str) -> bool:
    return holder.startswith(NIGHT_CLIENT)
