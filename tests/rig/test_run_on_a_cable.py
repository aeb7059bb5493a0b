"""A whole run of `ropewalk send` over a cable between two hosts: pulled, put in again, and point to point."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from streamer.net.interfaces import find_interface
from streamer.net.receiver import UdpReceiver
from tests.rig.cable import Cable

pytestmark = [pytest.mark.rig, pytest.mark.usefixtures("own_folders")]

ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
LIMIT_S = 10.0
SEEN_S = 1.5
"""A second for the watch, a fifth for the status; a look that begins later has to see it."""


def ropewalk(cable: Cable, *words: str) -> "subprocess.CompletedProcess[str]":
    """Run `ropewalk` on the near host."""
    return subprocess.run(
        ["ip", "netns", "exec", cable.near.namespace, ROPEWALK, *words],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
        text=True,
        timeout=LIMIT_S,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )


def status(cable: Cable) -> dict[str, Any]:
    """Return what `ropewalk runs --json` says of the only run."""
    looked = ropewalk(cable, "runs", "--json")
    assert not looked.stderr
    runs: dict[str, dict[str, Any]] = json.loads(looked.stdout)
    (only,) = runs.values()
    return only


def status_once(cable: Cable, is_so: Callable[[dict[str, Any]], bool], within_s: float) -> dict[str, Any]:
    """Look until the status is such, and return it; a look that begins after that time has to find it so."""
    limit_s = time.monotonic() + within_s
    while True:
        is_last = time.monotonic() > limit_s
        if is_so(last := status(cable)):
            return last
        assert not is_last, last


def test_a_pulled_cable_is_told_while_it_is_out_and_in_the_outcome(cable: Cable):
    """The far end goes dark: no send is refused, so only the carrier tells; then it is in again."""
    far = cable.far
    with far.inside():
        receiver = UdpReceiver(5568, "", (), find_interface(far.interface))
    words = ("send", "walk", "-u", "1-3", "--to", far.address, "--free")
    assert ropewalk(cable, *words).returncode == 0
    well = status_once(cable, lambda now: now["counts"]["packets"] > 0, LIMIT_S)
    assert (well["carrier_lost"], well["complaints"]) == (False, [])
    assert well["ways"] == {far.address: "offload"}
    assert sum(each["frames"] for each in well["lateness"]["bins"]) == well["counts"]["frames"]
    far.ip("link", "set", far.interface, "down")
    out = status_once(cable, lambda now: now["carrier_lost"], SEEN_S)
    assert out["complaints"][0].startswith("shed0: its cable leads nowhere. Plug it in")
    assert "! shed0: its cable leads nowhere" in ropewalk(cable, "runs").stdout
    far.ip("link", "set", far.interface, "up")
    status_once(cable, lambda now: not now["carrier_lost"], SEEN_S)
    status_once(cable, lambda now: not now["complaints"], LIMIT_S)
    receiver.receive(100_000)
    status_once(cable, lambda _: bool(receiver.receive(1000)), LIMIT_S)
    assert ropewalk(cable, "stop").returncode == 0
    receiver.close()


def test_a_run_without_a_cable_is_no_clean_run(cable: Cable):
    """Every send was accepted, and yet nothing arrived anywhere: exit code 1, and why."""
    cable.far.ip("link", "set", cable.far.interface, "down")
    words = ("send", "level", "-u", "1", "--interface", cable.near.interface, "--seconds", "0.5", "--json")
    done = ropewalk(cable, *words)
    ended = json.loads(done.stdout)["ended"]
    assert ended["carrier_lost"]
    assert "Plug it in" in ended["complaints"][0]
    assert done.returncode == 1


def test_artsync_is_refused_where_a_line_has_no_broadcast(cable: Cable):
    """RFC 3021: a network of two addresses has none; Art-Net 4: ArtSync goes by directed broadcast only."""
    near = cable.near
    near.ip("address", "flush", "dev", near.interface)
    near.ip("address", "add", "10.62.0.0/31", "dev", near.interface)
    words = ("send", "level", "-u", "1", "--protocol", "artnet", "--to", "10.62.0.1", "--art-sync")
    done = ropewalk(cable, *words)
    assert done.returncode == 1
    assert "controller at 10.62.0.1: shed0 is a line to it alone, which has no broadcast" in done.stderr
