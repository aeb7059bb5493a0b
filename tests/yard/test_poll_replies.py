"""How the yard's Art-Net controllers answer ArtPoll, by the octets of Art-Net 4's ArtPollReply."""

import pytest

from streamer.display.model import Controller, Display, Protocol
from streamer.wire import artnet
from tests.of_kind import of_kind
from tests.yard.bench import ART_POLL, Bench, art_dmx, jetty, port


def art_jetty(*universes: int, **settings: object) -> Bench:
    """Return a bench of an Art-Net controller with a port of one node on each Port-Address."""
    ports = [port(number, 1, universe) for number, universe in enumerate(universes, start=1)]
    return Bench(jetty(ports, protocol=Protocol.ARTNET, **settings))


def reply_of(octets: bytes) -> artnet.ArtPollReply:
    """Read a reply."""
    return of_kind(artnet.ArtPollReply, artnet.parse(octets))


def test_a_reply_has_every_octet_in_its_place():
    """Field by field from the packet definition: Port-Address 0x05A3 is Net 5, Sub-Net 10, Universe 3."""
    bench = art_jetty(0x05A3)
    bench.give(art_dmx(0x05A3, bytes(2)), Protocol.ARTNET)
    (reply,) = bench.give(ART_POLL, Protocol.ARTNET)
    assert len(reply) == 239
    assert reply[:10] == b"Art-Net\0\x00\x21"
    assert reply[10:14] == bytes([127, 0, 0, 1])
    assert reply[14:16] == b"\x36\x19", "6454, low octet first"
    assert (reply[18], reply[19]) == (5, 10)
    assert reply[24:26] == b"\xf0\x7f", "0x7FF0, low octet first"
    assert reply[26:44].rstrip(b"\0") == b"jetty"
    assert reply[108:172].rstrip(b"\0") == b"#0001 [0001] virtual"
    assert reply[172:174] == b"\0\1"
    assert reply[174:178] == b"\x80\0\0\0", "one output"
    assert reply[182:186] == b"\x80\0\0\0", "data being output"
    assert reply[190:194] == b"\3\0\0\0"
    assert (reply[200], reply[211]) == (0, 1), "a node; the root device"


def test_all_port_addresses_are_told_four_of_a_sub_net_at_a_time():
    """A reply has one Net and one Sub-Net and four ports; the rest follows under the next BindIndex."""
    universes = [0, 1, 2, 3, 4, 15, 16, 256]
    replies = [reply_of(each) for each in art_jetty(*universes).give(ART_POLL, Protocol.ARTNET)]
    assert [reply.bind_index for reply in replies] == [1, 2, 3, 4]
    assert [reply.output_port_addresses for reply in replies] == [(0, 1, 2, 3), (4, 15), (16,), (256,)]


def test_a_targeted_poll_is_answered_only_by_those_in_its_range():
    """Art-Net 4, ArtPoll: Flags bit 5, then the top and the bottom Port-Address, both inclusive."""
    bench = art_jetty(5, 0x0100)
    poll = b"Art-Net\0" + bytes([0x00, 0x20, 0, 14, 0x20, 0, 0x00, 0x05, 0x00, 0x05])
    (reply,) = bench.give(poll, Protocol.ARTNET)
    assert reply_of(reply).output_port_addresses == (5,)


def test_e131_controllers_do_not_answer():
    """They speak another protocol."""
    assert Bench(jetty([port(1, 1, 1)])).give(ART_POLL, Protocol.ARTNET) == ()


def test_only_the_controllers_at_the_address_that_was_asked_answer():
    """Two controllers at two addresses are asked one by one, and answer with their own address."""
    display = Display(
        name="boathouse",
        controllers=tuple(
            Controller(
                name=f"shed {n}", protocol=Protocol.ARTNET, address=f"127.0.0.{n}", ports=(port(n, 1, n),)
            )
            for n in (1, 2)
        ),
    )
    (reply,) = Bench(display).yard.take(ART_POLL, Protocol.ARTNET, 0.0, "127.0.0.1", "127.0.0.2")
    assert str(reply_of(reply).ip) == "127.0.0.2"
    assert reply_of(reply).short_name == "shed 2"


@pytest.mark.parametrize("name", ["Steg \N{LATIN SMALL LETTER O WITH DIAERESIS}stlich", "x" * 200])
def test_any_name_of_a_controller_fits_the_reply(name: str):
    """Short names are 17 ASCII octets, long ones 63; the rest is cut, and what is not ASCII is shown as ?."""
    display = jetty([port(1, 1, 1)], protocol=Protocol.ARTNET)
    controller = display.controllers[0].model_copy(update={"name": name})
    (reply,) = Bench(Display(name="boathouse", controllers=(controller,))).give(ART_POLL, Protocol.ARTNET)
    assert reply_of(reply).short_name == name.replace("\N{LATIN SMALL LETTER O WITH DIAERESIS}", "?")[:17]


def test_a_thousand_and_more_port_addresses_are_answered_as_far_as_the_bind_index_goes():
    """BindIndex is one octet: 255 replies of four."""
    replies = art_jetty(*range(2000)).give(ART_POLL, Protocol.ARTNET)
    assert len(replies) == 255
