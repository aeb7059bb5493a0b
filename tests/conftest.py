"""Which tests may run at the same time: all but those that use real sockets, or take the whole machine."""

import gc
import os
import signal
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling

BY_TURNS = tuple(
    f"tests/{place}"
    for place in (
        *("cli/", "net/", "peers/", "test_readme.py", "demo/test_unattended.py", "engine/test_outlet.py"),
        *("engine/test_process.py", "hear/test_ears.py", "hear/test_process.py"),
        *("yard/test_process.py", "yard/test_sockets.py"),
    )
)
"""Some of these want ports 5568 and 6454 for themselves, others count groups that all sockets share."""
USUAL = ("not rig and not long and not slow", "slow and not rig and not long")
"""What is asked for: nothing, or the rest of what only computes. Rigs and long tests want the machine."""
DRAWS = {USUAL[0]: 40}
DRAWS_ELSE = 200
"""How many examples Hypothesis draws where a test does not say: few each time, many among the slow ones."""
HOSTS = "tests/rig/"
"""But for these, which have addresses of their own, and mostly wait."""
APART = ("test_soak.py", "test_doctor.py")
"""Of those, the long ones; each test has network namespaces to itself."""

GARBAGE = (50_000, 20, 100)
"""Python looks for garbage every 700 objects by default: a fifth of the time of the tests of the screens."""


class Turns(LoadScopeScheduling):  # type: ignore[misc]  # xdist has no types
    """Gives a file's tests to one worker, those that must come one after another too, and hosts to any."""

    def _split_scope(self, nodeid: str) -> str:
        path = nodeid.partition("::")[0]
        is_usual = self.config.getoption("markexpr") in USUAL
        if path.startswith(HOSTS):
            return nodeid if path.endswith(APART) else path
        return "by turns" if path.startswith(BY_TURNS) or not is_usual else path


def pytest_xdist_auto_num_workers() -> int:
    """Have one more than there are cores: those that take turns at sockets mostly wait."""
    return (os.cpu_count() or 1) + 1


def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Turns:
    """Have the tests dealt out so."""
    return Turns(config, log)


def pytest_configure() -> None:
    """Let commands be ended by Ctrl-C and by a hangup, though `&` or `nohup` have both ignored here."""
    for number in (signal.SIGINT, signal.SIGHUP):
        if signal.getsignal(number) is signal.SIG_IGN:
            # What is ignored is ignored by every process started from here on; what is handled is not.
            signal.signal(number, lambda *_: None)


def pytest_sessionstart(session: pytest.Session) -> None:
    """Have examples drawn without a time limit for each, as a busy machine is no failure."""
    if session.config.option.numprocesses:
        return  # this process only gives the tests out
    from hypothesis import settings

    draws = DRAWS.get(session.config.getoption("markexpr"), DRAWS_ELSE)
    settings.register_profile("ours", deadline=None, max_examples=draws)
    settings.load_profile("ours")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Have what draws examples run among the slow tests too, where there are more of them."""
    if config.getoption("markexpr") == USUAL[1]:
        for item in items:
            if hasattr(getattr(item, "obj", None), "hypothesis"):
                item.add_marker("slow")


def pytest_collection_finish() -> None:
    """Keep what is loaded by now out of the search for garbage, and search seldom."""
    gc.freeze()
    gc.set_threshold(*GARBAGE)


@pytest.fixture(name="own_folders")
def _own_folders(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Give the processes of a test folders of their own, with names short enough for a local socket."""
    with tempfile.TemporaryDirectory(prefix="rw") as folder:
        monkeypatch.setenv("ROPEWALK_RUNTIME_DIR", f"{folder}/run")
        monkeypatch.setenv("ROPEWALK_CONFIG_DIR", f"{folder}/config")
        yield Path(folder)
