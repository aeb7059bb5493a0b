"""One table of actions feeds the keys, the keycaps, the help and the palette."""

import subprocess
import sys

import pytest
from textual.binding import Binding
from textual.keys import _character_to_key

from tests.tui.stage import Open
from tui.actions import ACTIONS, BY_NAME, KEYCAPS, KEYCAPS_ALWAYS, MODES, bindings, keys_of
from tui.app import RopewalkApp

UNSAFE = {f"ctrl+{letter}" for letter in "abcdefghijklmnopqrstuvwxyz"}
"""Keys that terminals, multiplexers and platforms take for themselves: no core job may need one."""


def test_every_action_has_a_key_a_label_and_a_sentence():
    """No action is without any of the three, and each sentence is one."""
    for action in ACTIONS:
        assert action.keys, action.name
        assert action.written, action.name
        assert action.label, action.name
        assert action.tooltip.endswith("."), action.name


def test_no_key_means_two_things_at_once():
    """In no mode do two actions share a key."""
    for mode in MODES:
        keys = [key for action in ACTIONS if mode in action.modes for key in keys_of(action)]
        assert sorted(set(keys)) == sorted(keys), mode


def test_no_action_needs_a_control_key():
    """Every key is a letter, a digit, a sign, an arrow or a function key."""
    assert not {key for action in ACTIONS for key in keys_of(action)} & UNSAFE


def test_every_action_can_be_done():
    """The app has a method for each action of the table."""
    for action in ACTIONS:
        assert callable(getattr(RopewalkApp, f"action_{action.name}", None)), action.name


def test_the_bindings_are_the_table():
    """Each action is bound to exactly its keys."""
    assert [(each.action, each.key) for each in bindings() if isinstance(each, Binding)] == [
        (each.name, each.keys) for each in ACTIONS
    ]


@pytest.mark.parametrize("mode", MODES)
def test_the_keycaps_of_a_mode_can_be_done_in_it(mode: str):
    """No keycap is shown that would do nothing."""
    for name in (*KEYCAPS[mode], *KEYCAPS_ALWAYS):
        if mode != "typing":
            assert mode in BY_NAME[name].modes, name


@pytest.mark.parametrize(
    ("size", "labels"),
    [
        ((80, 24), ["Start", "Pattern...", "Display...", "On/off", "Only this", "More...", "Help", "Quit"]),
        ((40, 24), ["Start", "Pattern...", "Help", "Quit"]),
    ],
)
async def test_the_last_rows_show_the_keys_that_matter(
    opened: Open, size: tuple[int, int], labels: list[str]
):
    """Five keys at 80 columns, two at 40; help and quit always; each key above its label."""
    async with opened(size=size) as stage:
        keys, names = stage.text.splitlines()[-2:]
        assert names.split() == " ".join(labels).split()
        by_label = {action.label: action.written for action in reversed(ACTIONS)}
        assert keys.split() == [by_label[label] for label in labels]


async def test_the_keycaps_follow_the_mode(opened: Open):
    """What matters changes as the run does."""
    async with opened() as stage:
        await stage.start()
        assert "In hand" in stage.text.splitlines()[-1]
        await stage.pilot.press("enter")
        await stage.until(lambda: "Run on" in stage.text.splitlines()[-1])


async def test_the_help_is_the_table_and_the_cautions(opened: Open):
    """Every action's key, label and sentence is in the help, and the cautions are too."""
    async with opened(size=(99, 100)) as stage:
        await stage.pilot.press("f1")
        await stage.until(lambda: "Keys and cautions" in stage.text)
        text = " ".join(stage.text.split())
        for action in ACTIONS:
            assert f"{action.written} {action.label}: {action.tooltip}" in text, action.name
        for word in ("RCD", "GFCI", "Ladders", "seizures", "licensed"):
            assert word in text


async def test_the_palette_offers_what_can_be_done_now(opened: Open):
    """Every action that the mode allows is in the palette, with its sentence; the others are not."""
    async with opened() as stage:
        commands = {each.title: each.help for each in stage.app.get_system_commands(stage.app.screen)}
        assert commands["Start (Enter)"] == BY_NAME["start"].tooltip
        assert "Stop (s)" not in commands
        await stage.pilot.press("f2", *"bright")
        await stage.until(lambda: "Level up by 5 %" in stage.text)


def test_every_written_key_is_one_that_textual_knows():
    """A single sign on a keycap is bound by its name."""
    for action in ACTIONS:
        if len(action.written) == 1 and action.written.isascii() and not action.written.isalnum():
            assert _character_to_key(action.written) in keys_of(action), action.name


def test_the_engine_room_never_loads_the_screen():
    """`import streamer, patterns` and the engine's client load neither Textual nor this package."""
    code = (
        "import sys, streamer, patterns, streamer.engine.client\n"
        "assert not {'textual', 'tui'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
