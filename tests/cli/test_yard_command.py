"""`ropewalk yard`: a JSON line a second, from real packets that `ropewalk send` sends."""

import json
import signal
from itertools import islice
from pathlib import Path

import pytest

from tests.cli.conftest import ADDRESS, LIMIT_S, begin, run


def jetty(folder: Path, more: str = "") -> Path:
    """Write the file of a display of five nodes, and more about their port; return its path."""
    path = folder / "display.toml"
    path.write_text(
        'name = "Jetty"\n[[controllers]]\nname = "jetty"\nprotocol = "e131"\n'
        f'address = "{ADDRESS}"\n[[controllers.ports]]\nnumber = 1\nuniverse = 1\nnodes = 5\n{more}'
    )
    return path


@pytest.mark.rig
def test_the_yard_says_what_the_nodes_of_each_port_show_and_a_fault_changes_it(folders: Path):
    """Level 100 % blue on five nodes; the third is dead."""
    path = jetty(folders, 'colour_order = "GRB"\n')
    yard = begin("yard", str(path), "--json", "--fault", "jetty/1=dead:3")
    assert yard.stdout
    first = json.loads(yard.stdout.readline())
    sent = run("send", "level", path, "-p", "colour=blue", "--level", "100", "--free")
    blue, dark = "#0000ff", "#000000"
    lines = map(json.loads, islice(yard.stdout, LIMIT_S))
    assert any(line["ports"][0]["nodes"] == [blue, blue, dark, blue, blue] for line in lines)
    stopped = run("stop")
    yard.send_signal(signal.SIGINT)
    out, err = yard.communicate(timeout=LIMIT_S)
    assert (sent.code, stopped.code) == (0, 0), sent.err + stopped.err
    assert "\x1b" not in out
    assert (yard.returncode, err) == (0, "")
    assert set(first) == {"seconds", "ports", "fixtures", "note"}
    assert first["ports"][0]["nodes"] == [dark] * 5
    assert first["ports"][0]["faults"] == ["node 3 is dead"]


@pytest.mark.rig
def test_a_yard_that_runs_is_listed_named_to_the_next_one_and_ended_by_its_name(folders: Path):
    """Whatever holds the ports can be found and ended without looking for its process."""
    path = jetty(folders)
    yard = begin("yard", str(path), "--json")
    assert yard.stdout
    assert yard.stdout.readline()
    listed, as_json = run("runs"), run("runs", "--json").json
    second = run("yard", path, "--seconds", "0.1")
    no_name, attached = run("stop"), run("stop", "nosuch")
    stopped = run("stop", "yard")
    _, err = yard.communicate(timeout=LIMIT_S)
    assert listed.out == ("yard: virtual controllers of Jetty, 0 of 1 ports receive; started by hand\n")
    assert set(as_json) == {"yard"}
    assert set(as_json["yard"]) == {"kind", "display", "started_by", "ports", "note"}
    assert second.code == 1
    for said in ("yard runs already: virtual controllers of Jetty", "stop yard", f"--to {ADDRESS[:4]}"):
        assert said in second.err
    assert (no_name.code, no_name.err) == (
        1,
        "Nothing is running. But yard plays controllers: ropewalk stop yard\n",
    )
    assert (attached.code, attached.err) == (1, "Nothing called nosuch is playing; what is: nothing.\n")
    assert (stopped.code, yard.returncode, err) == (0, 0, "")
    assert run("runs").out == "Nothing is running.\n"
