"""What the coverage-guided fuzz found worth keeping: cases that between them reach every line it reached."""

from pathlib import Path

import pytest

from tests.hear.fuzz import datagrams, try_case

CORPUS = Path(__file__).with_name("corpus.txt").read_text("ascii").split()


@pytest.mark.parametrize("number", range(len(CORPUS)))
def test_every_kept_case_is_heard_and_told(number: int):
    """Each does what `try_case` promises of any."""
    case = bytes.fromhex(CORPUS[number])
    assert datagrams(case)
    try_case(case)
