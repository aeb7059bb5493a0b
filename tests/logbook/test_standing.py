"""How a string stands follows from what was written about it, and from what the display file says now."""

from importlib import resources

import pytest

from streamer.display.file import parse
from streamer.display.model import Display
from streamer.display.patch import compile_patch
from streamer.display.sample import SAMPLE_NAME, sample_display
from streamer.logbook.fingerprint import fingerprints
from streamer.logbook.records import Entry, Kind, Sort, Subject, Verdict
from streamer.logbook.standing import Standing, State, standings
from tests.logbook.conftest import Write

GABLE = Subject(Sort.STRING, "boathouse/1")


def sample_text() -> str:
    """Return the sample's file."""
    return resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8")


def numbered(*entries: Entry) -> list[Entry]:
    """Return them as the logbook does."""
    return [entry.model_copy(update={"number": number}) for number, entry in enumerate(entries, start=1)]


def gable(*entries: Entry, display: Display | None = None) -> Standing:
    """Return how the first string stands after these entries."""
    return standings(display or sample_display(), numbered(*entries)).all[0]


def test_a_string_that_nobody_looked_at_is_not_looked_at():
    """And is on the punch list, after what is more urgent."""
    assert gable().state is State.UNSEEN
    assert len(standings(sample_display(), []).punch_list) == 10


def test_a_fault_a_repair_and_a_new_proof_are_three_states_in_turn(write: Write):
    """What was proven, found, fixed and proven again: with its history."""
    entries = [write(verdict=Verdict.PROVEN)]
    assert gable(*entries).state is State.PROVEN
    entries.append(write(Kind.FOUND, verdict=Verdict.FAULT, words="break after node 57"))
    assert gable(*entries).state is State.FAULT
    entries.append(write(Kind.FIXED, words="new joint"))
    assert gable(*entries).state is State.FIXED
    entries.append(write(verdict=Verdict.PROVEN))
    stand = gable(*entries)
    assert stand.state is State.PROVEN
    assert not stand.is_open
    assert [entry.kind for entry in stand.history] == [Kind.ANSWER, Kind.FOUND, Kind.FIXED, Kind.ANSWER]


def test_answers_that_settle_nothing_notes_and_passing_over_change_no_state(write: Write):
    """A proof stands until a fault, a repair or another file says otherwise."""
    rest = [write(), write(Kind.SKIPPED), write(Kind.NOTE, words="hums"), write(Kind.BEGUN)]
    stand = gable(write(verdict=Verdict.PROVEN), *rest)
    assert stand.state is State.PROVEN
    assert [entry.kind for entry in stand.history] == [Kind.ANSWER, Kind.NOTE]


def test_what_was_undone_counts_for_nothing(write: Write):
    """The slip and its undoing are left out; undoing the undoing is no thing."""
    assert gable(write(verdict=Verdict.FAULT), write(Kind.UNDONE, undoes=1)).state is State.UNSEEN


CHANGES = [
    ("universe = 13\n  slot = 196", "universe = 21\n  slot = 196", "universe was 13, is 21"),
    ("slot = 196", "slot = 199", "slot was 196, is 199"),
    ("slot = 196", 'slot = 196\n  colour_order = "GRB"', "colour_order was RGB, is GRB"),
    ("slot = 196", "slot = 196\n  reversed = true", "reversed was false, is true"),
    ("slot = 196", "slot = 196\n  skip = 2", "skip was 0, is 2"),
    ("nodes = 30", "nodes = 31", "nodes was 30, is 31; segments was [30], is [31]"),
    ('address = "127.0.0.1"', 'address = "127.0.0.9"', "address was 127.0.0.1, is 127.0.0.9"),
    ('addressing = "aligned"', 'addressing = "packed"', "addressing was aligned, is packed"),
    ('addressing = "aligned"', "slots = 510", "slots was 512, is 510"),
]


@pytest.mark.parametrize(("before", "after", "words"), CHANGES, ids=[words for *_, words in CHANGES])
def test_a_proof_no_longer_holds_when_the_file_says_otherwise_about_its_string(
    before: str, after: str, words: str, write: Write
):
    """It says which key, what it was, and what it is."""
    text = sample_text()
    assert before in text
    text = text.replace('slot = 196\n  colour_order = "RGB"', "slot = 196").replace(before, after, 1)
    entry = write(name="boathouse/5", verdict=Verdict.PROVEN)
    stand = standings(parse(text, SAMPLE_NAME), numbered(entry)).all[4]
    assert stand.state is State.CHANGED
    assert "; ".join(stand.changes) == words


def test_what_does_not_matter_to_a_string_leaves_its_proof_alone(write: Write):
    """Its label, where it hangs, its neighbours on the controller, the priority."""
    text = sample_text()
    for before, after in (
        ('label = "Gable"', 'label = "Gable, left"'),
        ("start = [0.0, 2.6], end = [2.5, 4.1]", "start = [0.0, 2.7], end = [2.5, 4.1]"),
        ('addressing = "aligned"', 'addressing = "aligned"\npriority = 120'),
        ("slot = 247", "slot = 253"),
    ):
        assert before in text
        text = text.replace(before, after, 1)
    stand = gable(write(verdict=Verdict.PROVEN), display=parse(text, SAMPLE_NAME))
    assert (stand.state, stand.changes, stand.label) == (State.PROVEN, (), "Gable, left")


def test_every_key_that_the_patch_reads_is_in_the_fingerprint():
    """Change any field of a port or a controller that moves a slot, and the fingerprint is another."""
    display = sample_display()
    boathouse = display.controllers[0]
    port = boathouse.ports[0]

    def with_port(**update: object) -> Display:
        ports = (port.model_copy(update=update), *boathouse.ports[1:])
        return with_controller(ports=ports)

    def with_controller(**update: object) -> Display:
        return display.model_copy(
            update={"controllers": (boathouse.model_copy(update=update), *display.controllers[1:])}
        )

    def slots(which: Display) -> list[tuple[object, int, int]]:
        patch = compile_patch(which)
        return [
            (patch.streams[stream].key, slot, component)
            for stream, slot, component in zip(
                patch.node_streams, patch.node_slots, patch.node_components, strict=True
            )
            if component < port.nodes * 4
        ]

    changed = [
        with_port(universe=99),
        with_port(slot=2),
        with_port(colour_order="BRG"),
        with_port(reversed=True),
        with_port(skip=1),
        with_port(segments=port.segments[:1]),
        with_controller(address="127.0.0.7"),
    ]
    for each in changed:
        assert slots(each) != slots(display)
        assert fingerprints(each)[GABLE] != fingerprints(display)[GABLE]


def test_strings_that_the_file_no_longer_has_are_kept_apart(write: Write):
    """Nothing that was written is forgotten."""
    found = standings(
        sample_display(), numbered(write(name="boathouse/99", label="Old", verdict=Verdict.PROVEN))
    )
    assert [(each.subject.name, each.label, each.state) for each in found.gone] == [
        ("boathouse/99", "Old", State.PROVEN)
    ]
    assert len(found.all) == 10


def test_the_punch_list_begins_with_what_is_most_urgent(write: Write):
    """Faults, then repairs, then proofs that no longer hold, then what nobody looked at."""
    entries = numbered(
        write(name="boathouse/1", verdict=Verdict.PROVEN),
        write(name="boathouse/2", verdict=Verdict.PROVEN, fingerprint={}),
        write(Kind.FIXED, name="boathouse/3", words="taped"),
        write(name="lake/1", verdict=Verdict.FAULT),
    )
    names = [each.subject.name for each in standings(sample_display(), entries).punch_list]
    assert names[:3] == ["lake/1", "boathouse/3", "boathouse/2"]
    assert "boathouse/1" not in names
    assert len(names) == 9
