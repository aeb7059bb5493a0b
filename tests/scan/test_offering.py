"""The display file that is offered from what was found: it passes `ropewalk check`, whatever devices say."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from streamer.display.file import parse
from streamer.display.model import Protocol
from streamer.errors import PlanError
from streamer.scan.comparing import compare
from streamer.scan.found import Found, Source
from streamer.scan.offering import offer
from tests.scan.replies import outputs
from tests.scan.test_comparing import SHED, found


def test_what_is_offered_is_as_planned_by_itself():
    """Names, addresses, port numbers and Port-Addresses are the devices'."""
    seen = found((outputs(3, 4, bind=1), SHED), (outputs(9, bind=2), SHED))
    display = parse(offer(seen), "offered")
    (controller,) = display.controllers
    assert (controller.name, controller.protocol, controller.address) == ("shed", Protocol.ARTNET, SHED)
    assert [(port.number, port.universe) for port in controller.ports] == [(1, 19), (2, 20), (3, 25)]
    assert compare(display, seen).is_as_planned


def test_announced_universes_are_offered_to_the_groups():
    """One port each."""
    source = Source("player", "cid", "10.0.0.2", (6, 7), is_whole=True)
    (controller,) = parse(offer(found(sources=(source,))), "offered").controllers
    assert (controller.protocol, controller.address) == (Protocol.E131, "multicast")
    assert [port.universe for port in controller.ports] == [6, 7]


def test_nothing_found_is_nothing_offered():
    """It says what to do instead."""
    with pytest.raises(PlanError, match="ropewalk new"):
        offer(found())


NAMES = st.binary(min_size=0, max_size=17).map(lambda octets: octets.replace(b"\0", b"/"))
PORTS = st.lists(st.integers(0, 255), min_size=1, max_size=4)


@pytest.mark.slow
@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(NAMES, PORTS, st.integers(0, 255), st.sampled_from([SHED, "10.0.0.7"])), min_size=1)
)
def test_whatever_devices_say_the_file_is_right(said: list[tuple[bytes, list[int], int, str]]):
    """Names of any octets, names and Port-Addresses twice, addresses where nobody can be."""
    replies = [
        (
            outputs(
                *ports, short_name=name, bind=number % 256, ip=bytes([224 if last == 9 else 10, 0, 0, last])
            ),
            to,
        )
        for number, (name, ports, last, to) in enumerate(said)
    ]
    seen = found(*replies)
    try:
        text = offer(seen)
    except PlanError as error:
        assert "no device with an output" in str(error)  # noqa: PT017  both ends are right
        return
    assert parse(text, "offered").controllers


@pytest.mark.slow
def test_many_devices_make_a_file_that_can_be_read():
    """It is bounded."""
    replies = [
        (
            outputs(0, 1, 2, 3, ip=bytes([10, 0, number >> 8, number & 255])),
            f"10.0.{number >> 8}.{number & 255}",
        )
        for number in range(1, 151)
    ]
    seen: Found = found(*replies)
    assert sum(len(each.ports) for each in parse(offer(seen), "offered").controllers) == 500
