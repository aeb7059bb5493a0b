"""What an Art-Net node makes of packets. Source: Art-Net 4, ArtDmx and ArtSync."""

from streamer.wire.artnet import ArtDmx
from streamer.wire.artnet_reception import ArtNetReception
from streamer.wire.reception import UNIVERSES_MAX, Verdict

DESK, LAPTOP, PHONE = "127.0.0.1", "127.0.0.2", "127.0.0.3"


def dmx(slots: bytes = b"\x01\x02", sequence: int = 0, port_address: int = 5, physical: int = 0) -> ArtDmx:
    """Make a packet of levels."""
    return ArtDmx(port_address, slots, sequence, physical)


def test_levels_are_what_was_received():
    """A Port-Address that nobody sends has no levels; then it has the packet's."""
    reception = ArtNetReception()
    assert reception.levels(5) is None
    assert reception.receive(dmx(), DESK, now=0.0) is Verdict.ACCEPTED
    assert reception.levels(5) == b"\x01\x02"
    assert reception.sources(5) == ((DESK, 0),)


def test_numbered_packets_are_kept_in_order_and_counted():
    """Sequence 1 to 255: an old one is discarded, a gap is counted, 255 is followed by 1."""
    reception = ArtNetReception()
    reception.receive(dmx(sequence=254), DESK, now=0.0)
    assert reception.receive(dmx(b"\xff\xff", 250), DESK, now=0.1) is Verdict.OUT_OF_ORDER
    assert reception.receive(dmx(b"\x03\x04", 1), DESK, now=0.2) is Verdict.ACCEPTED
    assert reception.levels(5) == b"\x03\x04"
    counters = reception.counters(5)
    assert (counters.received, counters.lost, counters.out_of_order) == (2, 1, 1)


def test_a_controller_that_was_started_again_is_heard_after_half_a_second():
    """Art-Net 4 has no end of stream and gives no time for ordering (our choice)."""
    reception = ArtNetReception()
    reception.receive(dmx(sequence=12), DESK, now=0.0)
    assert reception.receive(dmx(b"\x03\x04", 1), DESK, now=0.49) is Verdict.OUT_OF_ORDER
    assert reception.receive(dmx(b"\x03\x04", 2), DESK, now=0.5) is Verdict.ACCEPTED
    assert reception.receive(dmx(b"\xff\xff", 2), DESK, now=0.6) is Verdict.OUT_OF_ORDER
    assert reception.receive(dmx(b"\x05\x06", 3), DESK, now=0.6) is Verdict.ACCEPTED
    assert reception.counters(5).lost == 0
    assert reception.levels(5) == b"\x05\x06"


def test_a_keep_alive_that_is_missing_is_counted():
    """Also where the packets are a second apart, as they are while levels stand still."""
    reception = ArtNetReception()
    reception.receive(dmx(sequence=12), DESK, now=0.0)
    reception.receive(dmx(sequence=14), DESK, now=1.8)
    assert reception.counters(5).lost == 1


def test_packets_without_numbers_are_all_taken():
    """Sequence 0 turns ordering off."""
    reception = ArtNetReception()
    verdicts = {reception.receive(dmx(sequence=0), DESK, now=0.0) for _ in range(3)}
    assert verdicts == {Verdict.ACCEPTED}
    assert reception.counters(5).lost == 0


def test_two_sources_are_merged_and_a_third_is_refused():
    """Two at most, told apart by IP and Physical; each slot takes the highest value (our choice)."""
    reception = ArtNetReception()
    reception.receive(dmx(b"\x10\x80"), DESK, now=0.0)
    reception.receive(dmx(b"\x40\x20", physical=1), DESK, now=0.0)
    assert reception.receive(dmx(b"\xff\xff"), LAPTOP, now=0.0) is Verdict.REFUSED
    assert reception.levels(5) == b"\x40\x80"


def test_a_silent_source_stays_in_the_merge_for_10_seconds():
    """Then the other's levels stand alone."""
    reception = ArtNetReception()
    reception.receive(dmx(b"\x10\x80"), DESK, now=0.0)
    reception.receive(dmx(b"\x40\x20"), LAPTOP, now=5.0)
    assert reception.expire(now=9.9) == []
    assert reception.levels(5) == b"\x40\x80"
    assert reception.expire(now=10.0) == []
    assert reception.levels(5) == b"\x40\x20"


def test_when_all_sources_are_silent_the_last_result_stays():
    """Art-Net has no end of stream: it is told once and the picture is held."""
    reception = ArtNetReception()
    reception.receive(dmx(), DESK, now=0.0)
    assert reception.expire(now=10.0) == [5]
    assert reception.expire(now=11.0) == []
    assert reception.levels(5) == b"\x01\x02"
    assert reception.sources(5) == ()


def test_after_the_first_artsync_levels_wait_for_the_next():
    """A node starts unsynchronized; one ArtSync releases every port."""
    reception = ArtNetReception()
    reception.receive(dmx(b"\x01\x01"), DESK, now=0.0)
    reception.receive(dmx(b"\x01\x01", port_address=6), DESK, now=0.0)
    assert reception.synchronize(DESK, now=0.0) is Verdict.ACCEPTED
    assert reception.receive(dmx(b"\x02\x02"), DESK, now=0.1) is Verdict.HELD
    assert reception.receive(dmx(b"\x03\x03", port_address=6), DESK, now=0.1) is Verdict.HELD
    assert (reception.levels(5), reception.levels(6)) == (b"\x01\x01", b"\x01\x01")
    reception.synchronize(DESK, now=0.2)
    assert (reception.levels(5), reception.levels(6)) == (b"\x02\x02", b"\x03\x03")


def test_an_artsync_from_another_sender_is_ignored():
    """Its source must be that of the latest ArtDmx."""
    reception = ArtNetReception()
    reception.receive(dmx(), DESK, now=0.0)
    assert reception.synchronize(LAPTOP, now=0.0) is Verdict.REFUSED
    assert reception.receive(dmx(b"\x02\x02"), DESK, now=0.1) is Verdict.ACCEPTED


def test_the_sender_of_the_latest_artdmx_is_the_one_that_synchronizes():
    """Not the sender of the first, nor of any other Port-Address before."""
    reception = ArtNetReception()
    reception.receive(dmx(port_address=6), LAPTOP, now=0.0)
    reception.receive(dmx(), DESK, now=0.0)
    assert reception.synchronize(LAPTOP, now=0.0) is Verdict.REFUSED
    assert reception.synchronize(DESK, now=0.0) is Verdict.ACCEPTED


def test_without_artsync_for_4_seconds_levels_are_shown_again():
    """What was held is shown as soon as that is noticed, and the next packet at once."""
    reception = ArtNetReception()
    reception.receive(dmx(b"\x01\x01"), DESK, now=0.0)
    reception.synchronize(DESK, now=0.0)
    assert reception.receive(dmx(b"\x02\x02"), DESK, now=3.9) is Verdict.HELD
    reception.expire(now=4.0)
    assert reception.levels(5) == b"\x02\x02"
    assert reception.receive(dmx(b"\x03\x03"), DESK, now=4.1) is Verdict.ACCEPTED


def test_a_port_that_is_merging_is_not_held():
    """ArtSync is ignored while a port merges."""
    reception = ArtNetReception()
    reception.receive(dmx(b"\x01\x09"), DESK, now=0.0)
    reception.receive(dmx(b"\x02\x02"), LAPTOP, now=0.0)
    reception.synchronize(LAPTOP, now=0.0)
    assert reception.receive(dmx(b"\x05\x02"), LAPTOP, now=0.1) is Verdict.ACCEPTED
    assert reception.levels(5) == b"\x05\x09"


def test_the_number_of_port_addresses_is_bounded():
    """A hostile network cannot fill the memory, nor keep ours out for ever."""
    reception = ArtNetReception()
    for port_address in range(UNIVERSES_MAX):
        reception.receive(dmx(port_address=port_address), PHONE, now=0.0)
    assert reception.receive(dmx(port_address=32767), DESK, now=0.0) is Verdict.REFUSED
    assert len(reception.expire(now=10.0)) == UNIVERSES_MAX
    assert reception.receive(dmx(port_address=32767), DESK, now=10.0) is Verdict.ACCEPTED
