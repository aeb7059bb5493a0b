"""Real lights are cautioned of, and only they (our own promise; 192.0.2.0/24 is for documents, RFC 5737)."""

from importlib import resources
from pathlib import Path

import pytest

from streamer.cli.real_lights import are_real
from streamer.display.model import MULTICAST
from streamer.display.sample import SAMPLE_NAME
from streamer.engine.messages import Setup
from tests.cli.conftest import ADDRESS, run
from tests.find.conftest import one_string


@pytest.mark.parametrize(
    ("address", "interface", "is_real"),
    [
        ("192.0.2.7", None, True),
        (MULTICAST, None, True),
        (MULTICAST, "lo", False),
        ("192.0.2.7", "lo", True),
        ("127.0.0.1", None, False),
        ("::1", None, False),
    ],
)
def test_lights_are_real_where_packets_leave_this_machine(
    address: str, interface: str | None, *, is_real: bool
):
    """A group leaves it by any interface but loopback."""
    display = one_string(50)
    moved = display.controllers[0].model_copy(update={"address": address})
    setup = Setup(display=display.model_copy(update={"controllers": (moved,)}), interface=interface)
    assert are_real(setup) is is_real


@pytest.mark.parametrize("command", [("prove",), ("find", "--port", "boathouse/1")])
def test_a_rehearsal_on_this_machine_needs_no_caution(command: tuple[str, ...], tmp_path: Path):
    """Everything goes to loopback, where a yard may listen."""
    file = tmp_path / "display.toml"
    file.write_text(resources.files("streamer.display").joinpath(SAMPLE_NAME).read_text("utf-8"), "utf-8")
    done = run(command[0], str(file), *command[1:], "--to", ADDRESS, "--answers", "-")
    assert '"kind": "look"' in done.out
    assert "aution" not in done.err
