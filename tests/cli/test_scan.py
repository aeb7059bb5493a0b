"""`ropewalk scan` against the yard on loopback: real packets, exit codes, JSON, a file to start from."""

import json
import re
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from streamer.display.file import load
from streamer.wire import artnet
from tests.cli.conftest import begin, run
from tests.scan.replies import outputs

pytestmark = pytest.mark.rig

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
SHORT = ("--interface", "lo", "--seconds", "1")
TWO_POLLS = ("--interface", "lo", "--seconds", "3")
"""Art-Net 4, ArtPoll: every 2.5 to 3 s. Who misses the first, on a busy machine, answers the second."""
LIMIT_S = 15

PLAN = """name = "Lake"
[[controllers]]
name = "shed"
protocol = "artnet"
address = "127.0.0.1"
[[controllers.ports]]
number = 1
port_address = "0:1:3"
nodes = 50
[[controllers.ports]]
number = 2
port_address = "0:1:5"
nodes = 50
"""


@pytest.fixture(name="yard")
def _yard(tmp_path: Path) -> Iterator[Path]:
    """Play the plan's controller, and return its file."""
    path = tmp_path / "lake.toml"
    path.write_text(PLAN)
    process = begin("yard", str(path), "--json")
    try:
        assert process.stdout is not None
        assert process.stdout.readline()
        yield path
    finally:
        process.terminate()
        process.communicate(timeout=LIMIT_S)


def test_the_yard_is_as_planned(yard: Path):
    """Exit code 0, and in words."""
    done = run("scan", yard, *TWO_POLLS)
    assert done.code == 0, done.err
    assert "shed, Art-Net at 127.0.0.1: as planned" in done.out
    assert "1: 19 (0:1:3); 2: 21 (0:1:5)" in done.out


def test_what_differs_is_told_with_exit_code_1(yard: Path, tmp_path: Path):
    """Another Port-Address, and a controller that is not there."""
    other = tmp_path / "other.toml"
    barn = PLAN[PLAN.index("[[controllers]]") :].replace("shed", "barn").replace("127.0.0.1", "127.0.0.77")
    other.write_text(yard.read_text().replace("0:1:5", "0:1:4") + barn)
    done = run("scan", other, *TWO_POLLS)
    assert done.code == 1
    assert "port 2 listens to 21 (0:1:5), the plan says 20 (0:1:4), one lower" in " ".join(done.out.split())
    assert "barn, Art-Net at 127.0.0.77: not found" in done.out


def test_a_rehearsal_in_the_yard_is_compared_by_to(yard: Path, tmp_path: Path):
    """The file's own address is not on this machine."""
    real = tmp_path / "real.toml"
    real.write_text(yard.read_text().replace("127.0.0.1", "192.0.2.7"))
    assert run("scan", real, *SHORT).code == 1
    assert run("scan", real, "--to", "127.0.0.1", *TWO_POLLS).code == 0


@pytest.mark.usefixtures("yard")
def test_a_file_to_start_from_passes_its_check_and_is_never_written_over(tmp_path: Path):
    """What was found is as that file plans it."""
    new = tmp_path / "new.toml"
    assert run("scan", "--write", new, *TWO_POLLS).code == 0
    assert run("check", new).code == 0
    assert [port.universe for port in load(new).ports] == [19, 21]
    assert run("scan", new, *TWO_POLLS).code == 0
    before = new.read_text()
    done = run("scan", "--write", new, *TWO_POLLS)
    assert done.code == 1
    assert "left as it is" in done.err
    assert new.read_text() == before


def documented(name: str) -> set[str]:
    """Return the keys that the README's table names for a part of the JSON."""
    table = README.split("| in `scan --json` |", 1)[1].split("\n\n", 1)[0]
    (row,) = [line for line in table.splitlines() if line.startswith(f"| `{name}` |")]
    return set(re.findall(r"`([a-z_0-9]+)`", row.split("|")[2])) - {"null", "output", "input"}


def test_the_json_is_as_documented(yard: Path):
    """Every key, none more."""
    done = run("scan", yard, "--json", *TWO_POLLS)
    assert (done.code, done.err) == (0, "")
    (device,) = done.json["devices"]
    (row,) = done.json["comparison"]["rows"]
    assert set(device) == documented("devices")
    assert set(device["ports"][0]) == documented("ports")
    assert set(device["report"]) == documented("report")
    assert set(done.json["comparison"]) == documented("comparison")
    assert set(row) == documented("rows")
    whole = next(line for line in README.splitlines() if line.startswith("| `scan` |"))
    assert set(done.json) <= set(re.findall(r"`([a-z_]+)`", whole))


def test_nobody_is_exit_code_1_and_says_what_to_look_at():
    """Nothing answers on loopback without a yard."""
    done = run("scan", *SHORT)
    assert done.code == 1
    assert "No Art-Net device answers. Check" in done.out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--to", "127.0.0.1"), "no display FILE"),
        (("--seconds", "0"), "--seconds"),
    ],
)
def test_a_wrong_command_line_is_exit_code_2(words: tuple[str, ...], said: str):
    """In words."""
    done = run("scan", *words)
    assert done.code == 2
    assert said in done.err


def test_an_interface_that_is_not_there_is_told():
    """With those that are."""
    done = run("scan", "--interface", "shed9", "--seconds", "1")
    assert done.code == 1
    assert "Choose one of" in done.err


def test_a_device_that_answers_to_port_6454_alone_is_heard_and_shown_harmless():
    """As the specification asks of devices: to 0x1936 of who asked; by hand, with a hostile name."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as node:
        node.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        node.bind(("127.255.255.255", artnet.PORT))
        node.settimeout(LIMIT_S)
        process = begin("scan", "--json", *TWO_POLLS)
        _, (asker, _) = node.recvfrom(2048)
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            out.sendto(outputs(3, short_name=b"\x1b[2Jshed"), (asker, artnet.PORT))
        out_text, err = process.communicate(timeout=LIMIT_S)
    (device,) = json.loads(out_text)["devices"]
    assert device["short_name"] == "\N{REPLACEMENT CHARACTER}[2Jshed"
    assert "\x1b" not in out_text + err


def test_a_source_s_universes_are_found():
    """By universe discovery, from a run of our own on loopback's groups; lists come every 10 s."""
    scan = begin("scan", "--json", "--interface", "lo", "--seconds", "11")
    send = begin("send", "level", "-u", "7-9", "--to", "multicast", "--interface", "lo", "--seconds", "12")
    out, _ = scan.communicate(timeout=30)
    send.communicate(timeout=30)
    (source,) = json.loads(out)["sources"]
    assert source["universes"] == [7, 8, 9]
    assert source["is_whole"]
