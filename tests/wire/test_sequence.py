"""Which packets are in order. Sources: ANSI E1.31-2018 clause 6.7.2; Art-Net 4, ArtDmx."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from streamer.wire import sequence

octets = st.integers(0, 255)
counted = st.integers(1, 255)


@pytest.mark.parametrize(
    ("last", "discarded", "accepted"),
    [  # 6.7.2: new - last as signed 8 bits is discarded from 0 down to -19
        (5, [*range(6), *range(242, 256)], [6, 133, 241]),
        (200, list(range(181, 201)), [201, 0, 180]),
        (255, list(range(236, 256)), [0, 1, 235]),
        (0, [0, *range(237, 256)], [1, 128, 236]),
    ],
)
def test_exactly_the_window_of_20_is_discarded(last: int, discarded: list[int], accepted: list[int]):
    """Every one of the 256 numbers falls on the right side."""
    assert [new for new in range(256) if not sequence.e131_accepts(last, new)] == discarded
    assert all(sequence.e131_accepts(last, new) for new in accepted)


@given(octets)
def test_the_next_number_is_accepted_and_nothing_is_lost(last: int):
    """6.2.5: one up, and 0 after 255."""
    following = sequence.e131_next(last)
    assert following == (last + 1 if last < 255 else 0)
    assert sequence.e131_accepts(last, following)
    assert sequence.e131_lost_between(last, following) == 0


@pytest.mark.parametrize(
    ("last", "new", "lost"),
    [(5, 7, 1), (254, 1, 2), (0, 127, 126), (5, 5, 0), (200, 180, 0), (100, 3, 0)],
)
def test_missing_packets_are_counted_on_the_way_forward(last: int, new: int, lost: int):
    """A step back of 20 or more is a source that started again: nothing is known to be lost."""
    assert sequence.e131_lost_between(last, new) == lost


@pytest.mark.parametrize(("last", "following"), [(0, 1), (1, 2), (254, 255), (255, 1)])
def test_artdmx_counts_from_1_to_255(last: int, following: int):
    """Art-Net 4: 0 is never reached by counting, it turns ordering off."""
    assert sequence.artnet_next(last) == following


def test_many_packets_count_on_as_each_by_itself():
    """Octets side by side, as in a matrix of packets: every number at once."""
    last = np.arange(256, dtype=np.uint8)
    for following in (sequence.e131_next, sequence.artnet_next):
        assert following(last).dtype == np.uint8
        assert following(last).tolist() == [following(each) for each in range(256)]


def test_a_number_that_was_not_used_is_taken_back():
    """As numbers and as octets side by side: what counting makes of every number leads back to it."""
    for following, before, first in (
        (sequence.e131_next, sequence.e131_before, 0),
        (sequence.artnet_next, sequence.artnet_before, 1),
    ):
        numbers = np.arange(first, 256, dtype=np.uint8)
        assert before(following(numbers)).dtype == np.uint8
        assert before(following(numbers)).tolist() == numbers.tolist()
        assert [before(following(each)) for each in numbers.tolist()] == numbers.tolist()


@given(counted)
def test_the_next_artdmx_is_accepted_and_nothing_is_lost(last: int):
    """Also from 255 to 1, which is one step."""
    assert sequence.artnet_accepts(last, sequence.artnet_next(last))
    assert sequence.artnet_lost_between(last, sequence.artnet_next(last)) == 0


@given(octets)
def test_artdmx_without_ordering_is_always_accepted(number: int):
    """Art-Net 4: sequence 0 on either side."""
    assert sequence.artnet_accepts(number, 0)
    assert sequence.artnet_accepts(0, number)
    assert sequence.artnet_lost_between(number, 0) == sequence.artnet_lost_between(0, number) == 0


@given(counted)
def test_artdmx_discards_the_same_20_steps(last: int):
    """Art-Net 4 gives no window; E1.31's is used on the cycle of 255 (our choice)."""
    backwards = [(last - 1 - step) % 255 + 1 for step in range(20)]
    assert sorted(backwards) == [new for new in range(1, 256) if not sequence.artnet_accepts(last, new)]


@pytest.mark.parametrize(
    ("last", "new", "lost"), [(5, 7, 1), (254, 1, 1), (255, 2, 1), (1, 128, 126), (9, 200, 0)]
)
def test_missing_artdmx_are_counted_on_the_way_forward(last: int, new: int, lost: int):
    """The cycle has 255 numbers: from 254 to 1 only 255 is missing."""
    assert sequence.artnet_lost_between(last, new) == lost
