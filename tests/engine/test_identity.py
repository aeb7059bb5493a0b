"""Who this installation is on the network: ANSI E1.31-2018 clause 5.6."""

import stat
import subprocess
import sys
from pathlib import Path

import pytest

from streamer.engine.identity import Identity, component_id
from streamer.errors import LinkError

ASK = "import sys; from pathlib import Path; from streamer.engine.identity import component_id; "
ASK += "print(component_id(Path(sys.argv[1])))"


def test_it_is_made_once_and_kept(tmp_path: Path):
    """One component keeps one CID for life; a random UUID (RFC 9562, version 4), for this user alone."""
    made = component_id(tmp_path)
    assert made.version == 4
    assert component_id(tmp_path) == made
    assert [path.name for path in tmp_path.iterdir()] == ["cid"]
    assert stat.S_IMODE((tmp_path / "cid").stat().st_mode) == 0o600


@pytest.mark.parametrize("octets", [b"", b"boathouse", b"\xff\xfe", b"6f1d3c52-9d0b-4c2e-8f6a"])
def test_a_damaged_file_is_refused_with_what_to_do(tmp_path: Path, octets: bytes):
    """Not silently replaced: receivers would take this for another source."""
    (tmp_path / "cid").write_bytes(octets)
    with pytest.raises(LinkError, match="Remove it"):
        component_id(tmp_path)
    assert (tmp_path / "cid").read_bytes() == octets


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path):
    """Such as one that is not there."""
    with pytest.raises(LinkError, match="cannot be written"):
        component_id(tmp_path / "nowhere")


def test_processes_that_start_at_once_agree(tmp_path: Path):
    """The file is whole from the moment it is there."""
    asking = [
        subprocess.Popen([sys.executable, "-c", ASK, str(tmp_path)], stdout=subprocess.PIPE, text=True)
        for _ in range(4)
    ]
    told = {process.communicate()[0].strip() for process in asking}
    assert told == {str(component_id(tmp_path))}


def test_a_second_engine_takes_a_cid_of_its_own_while_the_first_runs(tmp_path: Path):
    """E1.31-2018 5.6 and 6.2.5: one CID has one counter a universe, so two engines may not share one."""
    first, second = Identity(tmp_path), Identity(tmp_path)
    assert first.cid == component_id(tmp_path)
    assert second.cid != first.cid
    assert second.cid.version == 4
    first.close()
    third = Identity(tmp_path)
    assert third.cid == first.cid
    second.close()
    third.close()
