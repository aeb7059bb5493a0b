"""Every action, once: its keys, its label, its sentence, and when it can be done.

The key bindings, the keycaps, the help screen and the command palette are all made from this table.
"""

from dataclasses import dataclass

from textual.binding import Binding, BindingType

from streamer.engine.messages import State

TYPING = "typing"
"""The mode in which the digits of a step are being typed; the other modes are the engine's states."""
IDLE, RUNNING, IN_HAND, IS_DARK = (
    str(each) for each in (State.IDLE, State.RUNNING, State.IN_HAND, State.DARK)
)
NO_DISPLAY = "no display"
"""The mode in which nothing was chosen to send to."""
GONE = "gone"
"""The mode in which the engine no longer answers."""
MODES = (*map(str, State), TYPING, NO_DISPLAY, GONE)


@dataclass(frozen=True, slots=True)
class Action:
    """One thing that can be done: `action_<name>` of the app does it."""

    name: str
    keys: str
    """Textual's names of the keys, separated by commas."""
    written: str
    """The key as it is written on a keycap."""
    label: str
    """One or two words; "..." where it asks something first."""
    tooltip: str
    group: str
    modes: tuple[str, ...] = MODES
    """When it can be done."""
    is_everywhere: bool = False
    """Whether it works on every sheet too, even while text is typed."""
    needs_yard: bool = False


ACTIONS = (
    Action(
        "dark",
        "f8",
        "F8",
        "Dark/light",
        "All lights dark, at once and never asked; or back.",
        "Lights",
        is_everywhere=True,
    ),
    Action(
        "dark_by_space",
        "space",
        "Space",
        "Dark/light",
        "The same on the largest key; in a text it writes a space.",
        "Lights",
        is_everywhere=True,
    ),
    Action(
        "choose",
        "enter",
        "Enter",
        "Choose...",
        "Say where the lights are, while nothing is chosen yet.",
        "Lights",
        (NO_DISPLAY,),
    ),
    Action("start", "enter", "Enter", "Start", "Send the pattern to the display.", "Lights", (IDLE,)),
    Action("hold", "enter", "Enter", "In hand", "Hold the pattern at this step.", "Lights", (RUNNING,)),
    Action("run", "enter", "Enter", "Run on", "Let the pattern run by itself again.", "Lights", (IN_HAND,)),
    Action("stop", "s", "s", "Stop", "Dark, and end the streams.", "Lights", (RUNNING, IN_HAND, IS_DARK)),
    Action("step_back", "left", "←", "Back", "One step back, in hand.", "Steps", (RUNNING, IN_HAND, IS_DARK)),
    Action(
        "step_next", "right", "→", "Next", "One step forward, in hand.", "Steps", (RUNNING, IN_HAND, IS_DARK)
    ),
    Action("back_ten", "pageup", "PgUp", "10 back", "Ten steps back.", "Steps", (RUNNING, IN_HAND, IS_DARK)),
    Action(
        "next_ten", "pagedown", "PgDn", "10 on", "Ten steps forward.", "Steps", (RUNNING, IN_HAND, IS_DARK)
    ),
    Action("first", "home", "Home", "First", "Back to the first step.", "Steps", (RUNNING, IN_HAND, IS_DARK)),
    Action(
        "jump",
        "enter",
        "0-9 Enter",
        "Go there",
        "Type a number, then Enter: that step, that node.",
        "Steps",
        (TYPING,),
    ),
    Action("forget", "escape", "Esc", "Forget", "Forget the digits typed.", "Steps", (TYPING,)),
    Action(
        "pattern", "p", "p", "Pattern...", "Choose the pattern, its settings, pace, level and rate.", "Look"
    ),
    Action("brighter", "plus,equals_sign", "+", "Brighter", "Level up by 5 %.", "Look"),
    Action("dimmer", "minus", "-", "Dimmer", "Level down by 5 %.", "Look"),
    Action("faster", "right_square_bracket,greater_than_sign", ">", "Faster", "More steps a second.", "Look"),
    Action("slower", "left_square_bracket,less_than_sign", "<", "Slower", "Fewer steps a second.", "Look"),
    Action(
        "display", "d", "d", "Display...", "Choose a display file or universes, and where they go.", "Ports"
    ),
    Action(
        "plan",
        "a",
        "a",
        "Plan...",
        "Addresses, amps, volts, times and network, and what would go wrong.",
        "Ports",
        tuple(each for each in MODES if each != NO_DISPLAY),
    ),
    Action(
        "scan",
        "k",
        "k",
        "Who's there...",
        "Devices and sources on the network, beside the plan.",
        "Ports",
    ),
    Action(
        "doctor",
        "x",
        "x",
        "Doctor...",
        "Nothing lights? Look for the broken link between here and the controllers.",
        "Ports",
        tuple(each for each in MODES if each != NO_DISPLAY),
    ),
    Action(
        "night",
        "f4",
        "F4",
        "Night run...",
        "Run through the night unattended, everything watched; and how it stands.",
        "Ports",
        (IDLE, RUNNING, IN_HAND, IS_DARK),
    ),
    Action(
        "report",
        "j",
        "j",
        "Night report...",
        "The verdict on the last night run: what happened when, and what it proves.",
        "Ports",
        tuple(each for each in MODES if each != NO_DISPLAY),
    ),
    Action("row_up", "up", "↑", "Row up", "The string above.", "Ports"),
    Action("row_down", "down", "↓", "Row down", "The string below.", "Ports"),
    Action("toggle_port", "m", "m", "On/off", "This port shows the pattern, or stays dark.", "Ports"),
    Action(
        "only_port", "o", "o", "Only this", "Only this port shows the pattern; again: all ports.", "Ports"
    ),
    Action(
        "find",
        "w",
        "w",
        "What's wrong...",
        "Search for the fault of this port, or of all: one look, one question at a time.",
        "Ports",
        (IDLE, RUNNING, IN_HAND, IS_DARK),
    ),
    Action(
        "prove",
        "g",
        "g",
        "Go through...",
        "Walk through the whole display and note what is proven.",
        "Ports",
        (IDLE, RUNNING, IN_HAND, IS_DARK),
    ),
    Action(
        "log",
        "f3",
        "F3",
        "Logbook...",
        "What is open, and what was proven, found and fixed, when; note what was mended.",
        "Ports",
        tuple(each for each in MODES if each != NO_DISPLAY),
    ),
    Action("mark_left", "comma", ",", "Mark left", "Look at the node before.", "Ports"),
    Action("mark_right", "full_stop", ".", "Mark right", "Look at the node after.", "Ports"),
    Action(
        "follow",
        "escape",
        "Esc",
        "Follow",
        "Look at the lit node again; put the last error out of sight.",
        "Ports",
        tuple(each for each in MODES if each != TYPING),
    ),
    Action("zoom", "z", "z", "Zoom", "One cell a node, or whole strings.", "Screen"),
    Action(
        "blank", "b", "b", "Blind", "Draw no lights, to spare eyes and slow lines; again: draw.", "Screen"
    ),
    Action(
        "arrivals",
        "v",
        "v",
        "Arrivals",
        "Show what arrives: everywhere, where it differs, nowhere.",
        "Yard",
        needs_yard=True,
    ),
    Action("fault", "f", "f", "Fault...", "Give a port of the yard a fault.", "Yard", needs_yard=True),
    Action(
        "surprise",
        "u",
        "u",
        "Surprise",
        "A hidden fault somewhere in the yard: find it.",
        "Yard",
        needs_yard=True,
    ),
    Action("reveal", "r", "r", "Reveal", "Show the yard's faults, or hide them.", "Yard", needs_yard=True),
    Action("heal", "h", "h", "Heal", "Take all faults from the yard.", "Yard", needs_yard=True),
    Action("take", "t", "t", "Take over", "Take control from whoever holds it.", "Run"),
    Action(
        "leash",
        "l",
        "l",
        "Leash",
        "When this screen closes: lights dark; without the leash the run goes on.",
        "Run",
        (RUNNING, IN_HAND, IS_DARK),
    ),
    Action(
        "figures",
        "i",
        "i",
        "Figures...",
        "How it sends: counts, lateness, errors, ways and processor.",
        "Run",
    ),
    Action(
        "hear",
        "y",
        "y",
        "Hear...",
        "Who else sends: every source on the wire, how it arrives, and who wins.",
        "Run",
    ),
    Action("words", "e", "e", "Errors...", "Everything that went wrong or was refused, in full.", "Run"),
    Action("copy", "c", "c", "Copy", "Copy the node's address to the clipboard.", "Screen"),
    Action("theme", "n", "n", "Night/day", "The dark-adapted theme, or the one for daylight.", "Screen"),
    Action("more", "f2,colon", "F2", "More...", "Every action, to search and choose.", "Screen"),
    Action("help", "question_mark,f1", "?", "Help", "Every key, and the cautions.", "Screen"),
    Action("quit", "q", "q", "Quit", "Leave; the leash says what becomes of the lights.", "Screen"),
)
BY_NAME = {action.name: action for action in ACTIONS}

KEYCAPS = {
    IDLE: ("start", "pattern", "display", "toggle_port", "only_port"),
    RUNNING: ("hold", "step_next", "step_back", "pattern", "stop"),
    IN_HAND: ("step_back", "step_next", "run", "pattern", "stop"),
    IS_DARK: ("dark_by_space", "stop", "step_back", "step_next", "pattern"),
    NO_DISPLAY: ("choose", "pattern", "dimmer", "brighter", "theme"),
    TYPING: ("jump", "forget", "step_back", "step_next", "stop"),
    GONE: ("words", "copy", "row_up", "row_down", "theme"),
    str(State.ENDING): ("pattern", "display", "toggle_port", "only_port", "words"),
}
"""The five that matter in each mode; the first two are all that a narrow screen shows."""
KEYCAPS_ALWAYS = ("more", "help", "quit")


def bindings() -> list[BindingType]:
    """Return the key bindings of the app."""
    return [
        Binding(
            each.keys,
            each.name,
            each.label,
            show=False,
            tooltip=each.tooltip,
            priority=each.is_everywhere,
            id=each.name,
        )
        for each in ACTIONS
    ]


def keys_of(action: Action) -> tuple[str, ...]:
    """Return Textual's names of the action's keys."""
    return tuple(action.keys.split(","))
