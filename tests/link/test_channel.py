"""Typed messages over a local socket: framing, bounds, and ends that misbehave."""

import socket
from collections.abc import Iterator

import pytest
from pydantic import BaseModel, TypeAdapter

from streamer.errors import LinkError
from streamer.link.channel import LINE_LIMIT_OCTETS, READ_OCTETS, WAITING_LIMIT_OCTETS, Channel


class Word(BaseModel):
    """A message of the tests."""

    text: str


WORDS = TypeAdapter(Word)
LINE = '{"text":"a\\nb ☂"}\n{"text":""}\n'.encode()


@pytest.fixture(name="ends")
def _ends() -> Iterator[tuple[Channel[Word], socket.socket]]:
    ours, theirs = socket.socketpair()
    channel = Channel(ours, WORDS)
    yield channel, theirs
    channel.close()
    theirs.close()


def test_messages_arrive_whole_wherever_the_stream_is_cut(ends: tuple[Channel[Word], socket.socket]):
    """Cut at every octet in turn, within a character or a line end."""
    channel, theirs = ends
    for cut in range(len(LINE) + 1):
        theirs.sendall(LINE[:cut])
        first = channel.receive()
        theirs.sendall(LINE[cut:])
        assert [word.text for word in first + channel.receive()] == ["a\nb ☂", ""]


def test_a_flood_is_read_in_pieces_and_nothing_of_it_is_lost(ends: tuple[Channel[Word], socket.socket]):
    """Bounded to 10 octets a call, the same two messages come in the end."""
    channel, theirs = ends
    theirs.sendall(LINE)
    pieces = [channel.receive(10) for _ in range(len(LINE) // 10 + 1)]
    assert pieces[0] == []
    assert sum(map(len, pieces)) == 2


def test_what_is_given_back_comes_first_and_in_order(ends: tuple[Channel[Word], socket.socket]):
    """Before what arrives meanwhile, also where the other end has gone."""
    channel, theirs = ends
    theirs.sendall(LINE)
    first, second = channel.receive()
    channel.give_back([second])
    channel.give_back([first])
    theirs.sendall(LINE)
    theirs.close()
    assert channel.receive() == [first, second, first, second]
    channel.give_back([second])
    assert not channel.is_open
    assert channel.receive() == [second]


@pytest.mark.parametrize(
    "junk", [b"\n", b"{}\n", b"\xff\xfe\n", b"[1,2]\n", b'{"text":1}\n', b"GET / HTTP/1.1\r\n"]
)
def test_what_is_no_message_is_refused_in_words_and_cut_off(
    ends: tuple[Channel[Word], socket.socket], junk: bytes
):
    """Never a traceback; the connection is closed."""
    channel, theirs = ends
    theirs.sendall(junk)
    with pytest.raises(LinkError, match="does not speak our messages"):
        channel.receive()
    assert not channel.is_open
    assert channel.fileno() == -1


def test_a_message_with_very_many_faults_is_not_written_out():
    """Each fault takes some hundred octets: a short line must not become a long error."""
    ours, theirs = socket.socketpair()
    channel = Channel(ours, TypeAdapter(Numbers))
    theirs.sendall(b'{"numbers":[' + b",".join([b'""'] * 10_000) + b"]}\n")
    with theirs, pytest.raises(LinkError) as caught:
        channel.receive()
    assert len(str(caught.value)) < 200


class Numbers(BaseModel):
    """A message with room for many faults."""

    numbers: list[int]


def test_a_line_without_an_end_is_cut_off_at_the_limit():
    """Memory is bounded: a little more than the limit is read, and no more."""
    ours, theirs = socket.socketpair()
    channel = Channel(ours, WORDS)
    theirs.setblocking(False)
    with theirs, pytest.raises(LinkError, match="without an end"):
        fill(theirs, channel)
    assert len(channel._read) <= LINE_LIMIT_OCTETS + READ_OCTETS
    assert not channel.is_open


def fill(theirs: socket.socket, channel: Channel[Word]) -> None:
    """Send spaces, twice as many as a line may have."""
    sent = 0
    while sent < 2 * LINE_LIMIT_OCTETS:
        try:
            sent += theirs.send(b" " * 2**20)
        except BlockingIOError:
            assert channel.receive() == []


def test_an_end_that_has_gone_is_noticed_after_its_last_words(ends: tuple[Channel[Word], socket.socket]):
    """What it said whole is delivered; the half line after it is dropped."""
    channel, theirs = ends
    theirs.sendall(b'{"text":"goodbye"}\n{"text":"half')
    theirs.close()
    assert [word.text for word in channel.receive()] == ["goodbye"]
    assert not channel.is_open
    assert channel.receive() == []


def test_last_words_are_read_though_an_answer_could_not_be_sent(ends: tuple[Channel[Word], socket.socket]):
    """A client that asks and goes at once has asked: "stop", say."""
    channel, theirs = ends
    theirs.sendall(b'{"text":"stop"}\n')
    theirs.close()
    channel.send(Word(text="status"))
    assert [word.text for word in channel.receive()] == ["stop"]
    channel.send(Word(text="to nobody"))
    channel.flush()
    assert not channel.is_open


def test_a_reader_that_is_slow_gets_everything_in_order(ends: tuple[Channel[Word], socket.socket]):
    """What the socket does not take waits, and goes when it does."""
    channel, theirs = ends
    for number in range(300):
        channel.send(Word(text=f"{number:4}" * 1000))
    did_wait = channel.is_waiting
    theirs.settimeout(2)
    received = bytearray()
    while received.count(b"\n") < 300:
        received += theirs.recv(2**16)
        channel.flush()
    assert (did_wait, channel.is_waiting) == (True, False)
    assert [WORDS.validate_json(line).text[:4] for line in received.splitlines()] == [
        f"{n:4}" for n in range(300)
    ]


def test_a_reader_that_stands_still_is_cut_off_with_bounded_memory(ends: tuple[Channel[Word], socket.socket]):
    """The sender never waits for it, and never keeps more than the limit."""
    channel, _theirs = ends
    message = Word(text="x" * 2**20)
    sent = 0
    while channel.is_open:
        channel.send(message)
        sent += 2**20
        assert sent < WAITING_LIMIT_OCTETS + 4 * 2**20
    channel.send(message)
    assert channel.fileno() == -1
