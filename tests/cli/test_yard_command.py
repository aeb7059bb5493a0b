"""`ropewalk yard`: a JSON line a second, from real packets that `ropewalk send` sends."""

import json
import signal
from itertools import islice
from pathlib import Path

import pytest

from tests.cli.conftest import ADDRESS, LIMIT_S, begin, run


@pytest.mark.rig
def test_the_yard_says_what_the_nodes_of_each_port_show_and_a_fault_changes_it(folders: Path):
    """Level 100 % blue on five nodes; the third is dead."""
    path = folders / "display.toml"
    path.write_text(
        'name = "Jetty"\n[[controllers]]\nname = "jetty"\nprotocol = "e131"\n'
        f'address = "{ADDRESS}"\n[[controllers.ports]]\nnumber = 1\nuniverse = 1\nnodes = 5\n'
        'colour_order = "GRB"\n'
    )
    yard = begin("yard", str(path), "--json", "--fault", "jetty/1=dead:3")
    assert yard.stdout
    first = json.loads(yard.stdout.readline())
    sent = run("send", "level", path, "-p", "colour=blue", "--level", "100", "--seconds", "2.2")
    blue, dark = "#0000ff", "#000000"
    lines = map(json.loads, islice(yard.stdout, LIMIT_S))
    assert any(line["ports"][0]["nodes"] == [blue, blue, dark, blue, blue] for line in lines)
    yard.send_signal(signal.SIGINT)
    out, err = yard.communicate(timeout=LIMIT_S)
    assert sent.code == 0, sent.err
    assert "\x1b" not in out
    assert (yard.returncode, err) == (0, "")
    assert set(first) == {"seconds", "ports", "fixtures", "note"}
    assert first["ports"][0]["nodes"] == [dark] * 5
    assert first["ports"][0]["faults"] == ["node 3 is dead"]
