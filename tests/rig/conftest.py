"""The cable of a test: two hosts that are gone when it ends."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator

import pytest

from tests.rig.cable import COMMAND_LIMIT_S, Cable, Host, run


@pytest.fixture(name="cable")
def _cable() -> Iterator[Cable]:
    _skip_unless_possible()
    near = Host(f"ropewalk{os.getpid()}near", "shed0", "10.61.0.1")
    far = Host(f"ropewalk{os.getpid()}far", "lawn0", "10.61.0.2")
    try:
        for host in (near, far):
            run("ip", "netns", "add", host.namespace)
            host.ip("link", "set", "lo", "up")
        cable = Cable(near, far)
        cable.plug()
        yield cable
    finally:
        for host in (near, far):
            subprocess.run(
                ["ip", "netns", "delete", host.namespace],
                capture_output=True,
                check=False,
                timeout=COMMAND_LIMIT_S,
            )


def _skip_unless_possible() -> None:
    if not sys.platform.startswith("linux") or os.geteuid() != 0 or shutil.which("ip") is None:
        pytest.skip("needs Linux, root and iproute2, to make network namespaces")
