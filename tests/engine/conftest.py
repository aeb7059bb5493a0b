"""Fixtures: an engine under a fake clock."""

import pytest

from tests.engine.bench import Bench


@pytest.fixture(name="bench")
def _bench() -> Bench:
    return Bench()
