"""Writing a counted number of nodes into a display file: all else stays as it was."""

from pathlib import Path

import pytest

from streamer.display.file import parse
from streamer.display.rewrite import with_nodes, write_nodes
from streamer.errors import PlanError

TEXT = """# A jetty, invented.
name   = "Jetty"   # odd spaces stay

[[controllers]]
name = "jetty"
protocol = "e131"
address = "127.0.0.1"

  [[controllers.ports]]
  number = 1
  universe = 1
  nodes = 50 # counted on the bench

  [[controllers.ports]]
  number = 2
  universe = 2
  segments = [
    { nodes = 20, spacing = "75 mm" }, # the rail
    { nodes = 30, spacing = "75 mm" }, # the deck
  ]
"""


def nodes_of(text: str) -> dict[str, int]:
    """Return the nodes of each port, by name."""
    return {port.name: port.nodes for port in parse(text, "jetty.toml").ports}


def test_one_number_changes_and_nothing_else():
    """Comments, spaces and order stay."""
    assert with_nodes(TEXT, "jetty/1", 48) == TEXT.replace("nodes = 50", "nodes = 48")


@pytest.mark.parametrize(("nodes", "segments"), [(57, [20, 37]), (45, [20, 25]), (20, [20]), (7, [7])])
def test_segments_give_and_take_at_the_end(nodes: int, segments: list[int]):
    """The last segment grows, shrinks or goes."""
    changed = with_nodes(TEXT, "jetty/2", nodes)
    assert nodes_of(changed) == {"jetty/1": 50, "jetty/2": nodes}
    port = parse(changed, "jetty.toml").ports[1]
    assert [segment.nodes for segment in port.segments] == segments
    assert "# the rail" in changed
    assert 'name   = "Jetty"   # odd spaces stay' in changed


def test_a_count_that_the_display_has_no_room_for_is_refused_and_nothing_is_written(tmp_path: Path):
    """171 nodes of port 1 would run into universe 2, which port 2 has."""
    path = tmp_path / "jetty.toml"
    path.write_text(TEXT)
    with pytest.raises(PlanError):
        write_nodes(path, "jetty/1", 171)
    assert path.read_text() == TEXT
    assert list(tmp_path.iterdir()) == [path]


def test_a_file_is_replaced_whole_and_keeps_its_line_ends_and_permissions(tmp_path: Path):
    """Written beside and moved; CRLF stays CRLF."""
    path = tmp_path / "jetty.toml"
    path.write_bytes(TEXT.replace("\n", "\r\n").encode())
    path.chmod(0o640)
    write_nodes(path, "jetty/1", 49)
    assert path.read_bytes() == TEXT.replace("nodes = 50", "nodes = 49").replace("\n", "\r\n").encode()
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_port_that_is_not_in_the_file_is_told():
    """Such as one that was asked for by --to several addresses."""
    with pytest.raises(PlanError, match="jetty/9: there is no such port in the file"):
        with_nodes(TEXT, "jetty/9", 5)
