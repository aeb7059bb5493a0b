"""The two themes: `tarred` for a dark-adapted eye (warm, dim, hardly any blue), `sailcloth` for daylight.

Meaning never rests on these colours: every state, mark and bead also has its own word, sign or letter.
Running and in hand differ as orange and sky blue do, a pair that all common colour blindness keeps apart.
"""

from textual.theme import Theme

NIGHT = "tarred"
DAY = "sailcloth"

TARRED = Theme(
    name=NIGHT,
    dark=True,
    background="#0e0a07",
    surface="#19120c",
    panel="#261b12",
    foreground="#c8ab84",
    primary="#e09a3e",
    secondary="#a98a61",
    accent="#f0c46c",
    success="#e0b25a",
    warning="#f0c46c",
    error="#ee7352",
    variables={
        "running": "#efae4b",
        "in-hand": "#7fbfd9",
        "dark-state": "#ead9c0",
        "idle": "#a98a61",
        "gone": "#ee7352",
        "rope": "#c79452",
        "yarn": "#4a3723",
        "quiet": "#a5865c",
        "unlit": "#5f482e",
        "cap": "#2d2015",
        "dark-cap": "#6b2413",
        "dark-cap-text": "#ffe2c4",
        "differs": "#f3a6c6",
        "block-cursor-background": "#e09a3e",
        "block-cursor-foreground": "#0e0a07",
        "input-cursor-background": "#f0c46c",
        "scrollbar": "#3a2a1a",
        "scrollbar-background": "#0e0a07",
        "scrollbar-corner-color": "#0e0a07",
    },
)

SAILCLOTH = Theme(
    name=DAY,
    dark=False,
    background="#f6efe0",
    surface="#ece2cd",
    panel="#dfd2b7",
    foreground="#2c2115",
    primary="#8a4b00",
    secondary="#6d5836",
    accent="#7a3d00",
    success="#5d4a00",
    warning="#7a3d00",
    error="#a32408",
    variables={
        "running": "#8a4b00",
        "in-hand": "#00558a",
        "dark-state": "#1a130b",
        "idle": "#6d5836",
        "gone": "#a32408",
        "rope": "#8a5a1c",
        "yarn": "#c2b08c",
        "quiet": "#695433",
        "unlit": "#a8946c",
        "cap": "#dccdae",
        "dark-cap": "#2c2115",
        "dark-cap-text": "#fff6e2",
        "differs": "#8d1358",
        "block-cursor-background": "#8a4b00",
        "block-cursor-foreground": "#fff6e2",
        "input-cursor-background": "#7a3d00",
        "scrollbar": "#c2b08c",
        "scrollbar-background": "#f6efe0",
        "scrollbar-corner-color": "#f6efe0",
    },
)

THEMES = (TARRED, SAILCLOTH)
OWN_VARIABLES = TARRED.variables
"""What the style sheet may rely on whatever theme is chosen."""
