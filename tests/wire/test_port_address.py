"""Art-Net 4's Port-Address: Net in bits 14 to 8, Sub-Net in 7 to 4, Universe in 3 to 0."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.errors import FieldError
from streamer.wire import port_address
from streamer.wire.artnet import ArtDmx

TABLE = [  # Port-Address, its parts, octets 14 and 15 of ArtDmx (SubUni, Net)
    (0, (0, 0, 0), "0000"),
    (16, (0, 1, 0), "1000"),
    (19, (0, 1, 3), "1300"),
    (256, (1, 0, 0), "0001"),
    (1443, (5, 10, 3), "a305"),
    (32767, (127, 15, 15), "ff7f"),
]


@pytest.mark.parametrize(("whole", "parts", "octets"), TABLE)
def test_a_port_address_is_its_three_parts(whole: int, parts: tuple[int, int, int], octets: str):
    """Split, joined, written, read and sent."""
    assert port_address.split(whole) == parts
    assert port_address.join(*parts) == whole
    assert port_address.text(whole) == f"{whole} ({parts[0]}:{parts[1]}:{parts[2]})"
    assert port_address.parse_triple(f" {parts[0]}:{parts[1]}:{parts[2]} ") == whole
    assert ArtDmx(whole, bytes(2)).encode()[14:16].hex() == octets


@given(st.integers(0, 32767))
def test_each_form_is_read_back_as_it_was_written(whole: int):
    """For every Port-Address there is."""
    assert port_address.join(*port_address.split(whole)) == whole
    assert port_address.parse_triple(port_address.triple(whole)) == whole


def test_a_number_that_is_too_high_can_still_be_named():
    """A string that runs on past the last Port-Address is complained of by its number."""
    assert port_address.text(32768) == "32768 (128:0:0)"


@pytest.mark.parametrize("whole", [-1, 32768, 65535])
def test_a_port_address_has_15_bits(whole: int):
    """Bit 15 is always 0."""
    with pytest.raises(FieldError):
        port_address.split(whole)


@pytest.mark.parametrize("parts", [(128, 0, 0), (0, 16, 0), (0, 0, 16), (-1, 0, 0)])
def test_a_part_out_of_range_is_refused(parts: tuple[int, int, int]):
    """Net to 127, Sub-Net and Universe to 15."""
    with pytest.raises(FieldError):
        port_address.join(*parts)


@pytest.mark.parametrize(
    "written", ["", "x", "19", "1:2", "1:2:3:4", "0:16:0", "128:0:0", "0:0:16", "-1:0:0", "٣:0:0", "9" * 5000]
)
def test_other_text_is_refused(written: str):
    """Each part has its own range, and only plain digits count."""
    with pytest.raises(FieldError):
        port_address.parse_triple(written)
