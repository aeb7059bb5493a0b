"""A kernel that refuses in the middle of a run: strace makes it say so, and no frame loses a packet."""

import json
import select
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import pytest

from streamer.net.receiver import UdpReceiver

pytestmark = [
    pytest.mark.rig,
    pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace, to have calls refused"),
]
ROPEWALK = str(Path(sys.executable).with_name("ropewalk"))
ADDRESS = "127.61.0.7"
LIMIT_S = 20
UNIVERSES = 20
UNIVERSE, SEQUENCE = slice(113, 115), 111
"""ANSI E1.31-2018 Table 6-5."""


@pytest.mark.parametrize("name", ["EIO", "EINVAL", "ENOPROTOOPT"])
def test_no_frame_is_lost_when_offload_is_refused(name: str):
    """Clause 6.2.5: each universe counts its packets without a gap; the refusal is told, and is no error."""
    inject = ("strace", "-f", "-qq", "-o", "/dev/null", "-e", "trace=sendmsg", "-e")
    asked = (
        "send",
        "walk",
        "-u",
        f"1-{UNIVERSES}",
        "--to",
        ADDRESS,
        "--every-frame",
        "--seconds",
        "1",
        "--json",
    )
    with tempfile.TemporaryDirectory(prefix="rw") as folder, UdpReceiver(5568, ADDRESS) as receiver:
        settings = (f"ROPEWALK_RUNTIME_DIR={folder}/r", f"ROPEWALK_CONFIG_DIR={folder}/c")
        done = subprocess.run(
            ("env", *settings, *inject, f"inject=sendmsg:error={name}:when=10..12", ROPEWALK, *asked),
            capture_output=True,
            text=True,
            check=True,
            timeout=LIMIT_S,
        )
        ended = json.loads(done.stdout)["ended"]
        numbers = defaultdict(list)
        while select.select([receiver], [], [], 0)[0]:
            for each in receiver.receive(limit=10_000):
                numbers[each.payload[UNIVERSE]].append(each.payload[SEQUENCE])
    assert ended["ways"] == {ADDRESS: f"sendmmsg: offload refused ({name})"}
    assert ended["counts"]["errors"] == {}
    assert ended["counts"]["packets"] == sum(map(len, numbers.values()))
    assert len(numbers) == UNIVERSES
    for told in numbers.values():
        assert told == [number % 256 for number in range(told[0], told[0] + len(told))]
