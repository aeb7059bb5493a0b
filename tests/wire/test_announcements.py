"""Lists of universes are joined from their pages: ANSI E1.31-2018 clause 8."""

from uuid import UUID

from streamer.wire.announcements import ANNOUNCERS_MAX, SILENT_S, Announcements
from streamer.wire.e131 import DiscoveryPacket, discovery_pages

CID = UUID("3f1c9a52-6b7d-4e21-9c04-d5a18e70b36f")
HOST = "10.0.0.2"


def test_pages_are_joined_in_any_order_and_a_list_says_whether_it_is_whole():
    """512 universes a page (8.5); pages 0 to the last page (8.3, 8.4)."""
    announcements = Announcements()
    first, second, third = discovery_pages(CID, "player", range(1, 1301))
    for page, is_whole in ((third, False), (first, False), (second, True)):
        announcements.announce(page, HOST, 0.0)
        (announcer,) = announcements.lists(0.0)
        assert announcer.is_whole is is_whole
    assert announcer.universes() == tuple(range(1, 1301))


def test_a_list_that_has_become_shorter_forgets_its_last_pages():
    """The last page says how many there are."""
    announcements = Announcements()
    for page in discovery_pages(CID, "player", range(1, 601)):
        announcements.announce(page, HOST, 0.0)
    announcements.announce(DiscoveryPacket(CID, "player", (7,)), HOST, 10.0)
    (announcer,) = announcements.lists(10.0)
    assert (announcer.universes(), announcer.is_whole) == ((7,), True)


def test_a_source_that_has_gone_is_no_longer_listed():
    """It repeats its list every 10 s (4.3)."""
    announcements = Announcements()
    announcements.announce(DiscoveryPacket(CID, "player", (7,)), HOST, 0.0)
    assert announcements.lists(SILENT_S - 0.1)
    assert not announcements.lists(SILENT_S)


def test_invented_sources_are_bounded():
    """The one heard longest ago makes room."""
    announcements = Announcements()
    for number in range(ANNOUNCERS_MAX + 10):
        announcements.announce(DiscoveryPacket(UUID(int=number), "x", (7,)), HOST, float(number) / 100)
    assert len(announcements.lists(1.0)) == ANNOUNCERS_MAX
